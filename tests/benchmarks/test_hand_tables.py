"""How long the tables of a neck, a set of strings and a hand take to make, and a grip to finger."""

from lickwright.guitar.fingering import fingerings
from lickwright.guitar.hand import Hand, bend_table, span_table, turns_table
from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import STRING_SETS, bend_tables

NECK = Neck(frets=22)
HAND = Hand()
LIGHT = STRING_SETS["light"]
BARRE = ((6, 5), (5, 7), (4, 7), (3, 6), (2, 5), (1, 5))


def test_bend_tables_of_six_strings_and_twenty_two_frets(benchmark) -> None:
    tables = benchmark(bend_tables.__wrapped__, NECK, LIGHT)
    assert tables.force_n.shape == (7, 23, 7)


def test_which_bends_the_hand_can_do(benchmark) -> None:
    assert benchmark(bend_table.__wrapped__, HAND, NECK, LIGHT).any()


def test_reach_of_the_whole_neck(benchmark) -> None:
    def build() -> bool:
        turns_table.cache_clear()
        return bool(span_table.__wrapped__(HAND, NECK).any())

    assert benchmark(build)


def test_all_fingerings_of_a_six_string_barre(benchmark) -> None:
    assert benchmark(fingerings.__wrapped__, HAND, NECK, BARRE)
