"""The fretboard against published tables and positions."""

import pytest
from lickwright.guitar.neck import Neck, frets_mm


# stuphi.co.uk, fret table for a scale of 635 mm (fret to bridge)
@pytest.mark.parametrize(("fret", "to_bridge_mm"), [(1, 599.360), (5, 475.712), (10, 356.382)])
def test_a_published_fret_table_for_635_mm(fret: int, to_bridge_mm: float) -> None:
    neck = Neck(scale_mm=635.0)
    assert neck.scale_mm - neck.fret_mm(fret) == pytest.approx(to_bridge_mm, abs=0.0005)


# derived from d = s (1 - 2^(-n/12)), s = 648 mm
@pytest.mark.parametrize(
    ("fret", "from_nut_mm"),
    [(1, 36.37), (3, 103.10), (5, 162.55), (7, 215.51), (12, 324.00), (15, 375.55), (24, 486.00)],
)
def test_the_frets_of_a_648_mm_scale(fret: int, from_nut_mm: float) -> None:
    neck = Neck(frets=24, scale_mm=648.0)
    assert neck.fret_mm(fret) == pytest.approx(from_nut_mm, abs=0.005)
    assert frets_mm(neck)[fret] == neck.fret_mm(fret)


# M. Koch, Building Electric Guitars: the luthier's constant 17.817 (exactly 17.81715)
def test_each_fret_takes_the_luthiers_share_of_what_is_left_of_the_string() -> None:
    neck = Neck(frets=24, scale_mm=648.0)
    for fret in range(24):
        left = neck.scale_mm - neck.fret_mm(fret)
        assert left / (neck.fret_mm(fret + 1) - neck.fret_mm(fret)) == pytest.approx(17.81715, abs=5e-6)


# Radicioni and Lombardo, "Guitar Fingering for Music Performance", ICMC 2005, Fig. 1; 5/19 and 6/24 follow
def test_the_places_of_the_e_above_middle_c() -> None:
    assert Neck(frets=24).places(64) == ((1, 0), (2, 5), (3, 9), (4, 14), (5, 19), (6, 24))
    assert Neck(frets=18).places(64) == ((1, 0), (2, 5), (3, 9), (4, 14))
