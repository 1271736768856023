"""Every touch, grip and move of written studies, recomputed by plain functions that share nothing with the program.

Only the limits are read from the rule files. Geometry: equal temperament on a straight neck, strings fanning
out evenly. Reach: two fingers posed as vectors in the plane of the board. Bends: the statics of a string
pulled into a triangle (see D. R. Grimes, PLoS ONE 9(7):e102088, 2014, for the physics). Shifts: a start, then
way over speed. The default run takes each style once, the long one every key, and 720 studies as a whole sweep.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations, pairwise

import pytest
from lickwright.compose.setting import BriefError
from lickwright.compose.write import CannotBeMet, write
from lickwright.judge.check import checked
from lickwright.rulebook.load import style_names
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.player import HandTable, NeckTable
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import BendKind, Brief, Event, Note, SlotKind, Study

from tests.sweeps import reach, some
from tests.written import a_study

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
LEVELS = ("first-year", "growing", "fluent")
#: Every style once, in keys and with seeds that take turns.
SOME = [(style, *(("A", 1), ("E", 2), ("Bb", 3))[n % 3]) for n, style in enumerate(style_names())]

# Finger lengths are the published means (Chatzioglou, Pinar, Govsa, Anat Cell Biol 57:172-182, 2024); the rest
# is common practice, no source, as the program's own words give it.
FINGER_MM = {1: 63.9, 2: 70.7, 3: 65.5, 4: 53.3}
KNUCKLE_MM, CURLED, STRAIGHT, TURN_DEG, PRESS_ZONE = 21.0, 0.3, 0.95, (-22.5, 60.0), 0.7
STEEL_KG_M3, STEEL_GPA, INCH_MM = 7850.0, 200.0, 25.4
# Thousandths of an inch from the first string on, wound from the fourth (a wound third where the set has one).
GAUGES = {
    "extra light": ((8, 10, 15, 21, 30, 38), 4),
    "light": ((9, 11, 16, 24, 32, 42), 4),
    "regular": ((10, 13, 17, 26, 36, 46), 4),
}
# The program samples the turns and the distances across; the worst of both together, in millimetres.
SAMPLED_MM = 1.5


def written(style: str, key: str, seed: int, level: str | None = None, hand: str | None = None) -> Study:
    return a_study(style, key, seed, level, **({"hand": hand} if hand else {}))


def limits(study: Study) -> RuleFile:
    return read_rules(study.brief.style, study.brief.level, study.brief.options)[1]


# ---- geometry ---------------------------------------------------------------------------------------------


def wire_mm(neck: NeckTable, fret: int) -> float:
    return neck.scale_mm - neck.scale_mm / 2 ** (fret / 12)


def string_y_mm(neck: NeckTable, string: int, fret: int) -> float:
    along = wire_mm(neck, fret) / neck.scale_mm
    return string * (neck.nut_spacing_mm * (1 - along) + neck.bridge_spacing_mm * along)


@lru_cache(maxsize=4096)
def furthest_mm(size: float, spread_deg: tuple[float, ...], low: int, high: int, across_mm: float) -> float:
    """How far along the neck two fingers come apart when their tips are ``across_mm`` apart across it."""
    opened = {1: spread_deg[0], 2: 0.0, 3: -spread_deg[1], 4: -spread_deg[1] - spread_deg[2]}
    knuckles = KNUCKLE_MM * size * (high - low)
    best = -1.0
    for turned in range(int(10 * TURN_DEG[0]), int(10 * TURN_DEG[1]) + 1, 15):
        turn = math.radians(turned / 10)
        for share in (k / 8 for k in range(9)):
            a, b = (turn + share * math.radians(opened[f]) for f in (low, high))
            for part in range(60, 191, 5):
                tip = part / 200 * FINGER_MM[low] * size
                # the higher finger's tip must lie across_mm beyond the lower one's, whatever its length is
                other = (tip * math.cos(a) + across_mm - knuckles * math.sin(turn)) / math.cos(b)
                if CURLED <= other / (FINGER_MM[high] * size) <= STRAIGHT:
                    apart = knuckles * math.cos(turn) - other * math.sin(b) + tip * math.sin(a)
                    best = max(best, apart)
    return best


def reach_fault(rules: RuleFile, a: Note, b: Note) -> str:
    """Why two fingers cannot press both places, or nothing."""
    hand, neck = rules.hand, rules.neck
    low, high = sorted((a, b), key=lambda n: n.finger)
    if not low.finger or not high.finger:
        return ""
    if low.finger == high.finger:
        space = wire_mm(neck, max(a.fret, b.fret)) - wire_mm(neck, max(a.fret, b.fret) - 1)
        way = wire_mm(neck, max(a.fret, b.fret)) - PRESS_ZONE * space - wire_mm(neck, min(a.fret, b.fret))
        return (
            "" if a.fret == b.fret or way <= hand.travel_mm * hand.size else f"one finger over {way:.0f} mm"
        )
    if high.fret < low.fret:
        return f"finger {high.finger} behind finger {low.finger}"
    pair = f"{low.finger}{high.finger}"
    if high.fret - low.fret > hand.span_frets[pair]:  # type: ignore[index]
        return f"{high.fret - low.fret} frets between {pair}"
    wires = wire_mm(neck, high.fret) - wire_mm(neck, low.fret)
    if hand.span_mm and wires > hand.span_mm[pair]:  # type: ignore[index]
        return f"{wires:.0f} mm between {pair}"
    if high.fret == low.fret:
        return ""
    space = wire_mm(neck, high.fret) - wire_mm(neck, high.fret - 1)
    needed = wires - PRESS_ZONE * space
    middle = (high.string - low.string) * (
        string_y_mm(neck, 1, low.fret) + string_y_mm(neck, 1, high.fret)
    ) / 2  # fmt: skip
    across = round(middle)
    able = max(
        furthest_mm(hand.size, hand.spread_deg, low.finger, high.finger, across + d) for d in (-1, 0, 1)
    )
    return "" if needed <= able + SAMPLED_MM else f"{needed:.0f} mm between {pair}, reach {able:.0f}"


# ---- bends ------------------------------------------------------------------------------------------------


@lru_cache(maxsize=1024)
def bend_needs(neck: NeckTable, string: int, fret: int, quarters: int) -> tuple[float, float]:
    """(mm aside, N) of a bend: the distance is found by halving, the force from both sides of the triangle."""
    gauges, first_wound = GAUGES[neck.strings]
    outer = gauges[string - 1] / 1000 * INCH_MM
    core = outer if string < first_wound else (0.0075 + 0.2 * gauges[string - 1] / 1000) * INCH_MM
    metal_mm2 = math.pi / 4 * (core**2 + (outer**2 - core**2) * math.pi / 4)
    mass_kg_m = STEEL_KG_M3 * metal_mm2 / 1e6
    open_hz = 440 * 2 ** (((64, 59, 55, 50, 45, 40)[string - 1] - 69) / 12)
    tension = mass_kg_m * (2 * neck.scale_mm / 1000 * open_hz) ** 2
    stiff = STEEL_GPA * 1000 * math.pi / 4 * core**2 + tension
    b = neck.scale_mm / 2 ** (fret / 12)
    a = neck.scale_mm - b

    def pulled(d: float) -> tuple[float, float, float, float]:
        a2, b2 = math.sqrt(a * a + d * d), math.sqrt(b * b + d * d)
        longer = (a2 + b2) / (a + b)
        return a2, b2, longer, tension + stiff * (longer - 1)

    def raised(d: float) -> float:
        _, b2, longer, tight = pulled(d)
        return 24 * math.log2(math.sqrt(tight / tension * longer) * b / b2)

    near, far = 0.0, 80.0
    for _ in range(60):
        middle = (near + far) / 2
        near, far = (middle, far) if raised(middle) < quarters else (near, middle)
    a2, b2, _, tight = pulled(far)
    return far, tight * (far / a2 + far / b2)


def bend_faults(rules: RuleFile, study: Study, event: Event, note: Note) -> Iterator[str]:
    hand, neck = rules.hand, rules.neck
    assert note.bend is not None
    way, force = bend_needs(neck, note.string, note.fret, note.bend.size)
    most = hand.bend_force_n[note.finger - 1] + hand.helper_force_n * (note.finger - 1)
    if force > most + 1e-6:
        yield f"{force:.1f} N with finger {note.finger}, limit {most:.1f}"
    if way > hand.bend_distance_mm:
        yield f"{way:.1f} mm aside, limit {hand.bend_distance_mm}"
    strings_ahead = 6 - note.string if note.string <= 3 else note.string - 1
    apart = string_y_mm(neck, 1, note.fret)
    if way > strings_ahead * apart + neck.edge_mm:
        yield f"{way:.1f} mm aside, off the board"
    if int(way / apart) > hand.bend_runs_into and strings_ahead > hand.bend_runs_into:
        yield f"runs over {int(way / apart)} strings"
    if note.bend.size > hand.bend_size[note.finger - 1]:
        yield f"{note.bend.size} quarter tones with finger {note.finger}"
    if note.bend.kind in (BendKind.BEND, BendKind.BEND_RELEASE):
        needs = hand.bend_start_s + way / hand.bend_mm_per_s
        if needs > time_s(study, event.duration) + 1e-6:
            yield f"{needs:.2f} s to bend"


# ---- time -------------------------------------------------------------------------------------------------


def time_s(study: Study, ticks: float) -> float:
    return ticks / 12 * 60 / study.tempo_bpm


def shift_s(hand: HandTable, neck: NeckTable, one: int, other: int) -> float:
    if one == other:
        return 0.0
    return hand.shift_start_s + abs(wire_mm(neck, one) - wire_mm(neck, other)) / hand.shift_mm_per_s


def move_faults(rules: RuleFile, study: Study, a: Event, b: Event) -> Iterator[str]:
    hand, neck = rules.hand, rules.neck
    inside = a.slot == b.slot and study.slots[a.slot].kind is SlotKind.LICK
    between = time_s(study, b.onset - a.onset)
    slid = all(note.technique.value == "slide" for note in b.notes)
    free = between if inside or slid else time_s(study, b.onset - a.end + a.duration // 2)
    if shift_s(hand, neck, a.hand, b.hand) > free + 1e-6:
        yield f"from fret {a.hand} to {b.hand} in {free:.2f} s"
    if not inside:
        if 1 / between > hand.strums_per_s + 1e-6:
            yield f"{1 / between:.1f} strokes a second"
        return
    x, y = upper(a), upper(b)
    rate = {
        "pluck": hand.plucks_per_s, "hammer-on": hand.hammer_ons_per_s, "pull-off": hand.pull_offs_per_s,
        "slide": hand.slides_per_s,
    }[y.technique.value]  # fmt: skip
    if 1 / between > rate + 1e-6:
        yield f"{1 / between:.1f} notes a second by {y.technique.value}, limit {rate}"
    if y.technique.value == "slide":
        if x.finger != y.finger or x.string != y.string:
            yield "a slide by another finger"
        return
    if a.hand == b.hand:
        fault = reach_fault(rules, x, y)
        if fault:
            yield fault
        if x.finger == y.finger and x.finger and shift_s(hand, neck, x.fret, y.fret) > between + 1e-6:
            yield f"finger {x.finger} from fret {x.fret} to {y.fret} in {between:.2f} s"


# ---- the whole study --------------------------------------------------------------------------------------


def upper(event: Event) -> Note:
    return min(event.notes, key=lambda n: n.string)


def touch_faults(rules: RuleFile, study: Study, event: Event) -> Iterator[str]:
    hand = rules.hand
    lick = study.slots[event.slot].kind is SlotKind.LICK
    for note in event.notes:
        if (note.fret == 0) != (note.finger == 0) or not 0 <= note.fret <= rules.neck.frets:
            yield f"finger {note.finger} at fret {note.fret}"
        above = note.fret - event.hand
        own = {0: (1,), 1: (2,), 2: (3,), 3: (3, 4)}.get(above, ())
        stretched = {-1: (1,), 4: (4,)}.get(above, ()) if hand.stretch else ()
        if lick and note.fret and note.finger not in (*own, *stretched):
            yield f"finger {note.finger} at fret {note.fret} with the hand at {event.hand}"
        if note.bend:
            yield from bend_faults(rules, study, event, note)
    strings = [n.string for n in event.notes]
    if len(set(strings)) < len(strings):
        yield "two notes on one string"
    for finger in {n.finger for n in event.notes if n.finger}:
        at = [n for n in event.notes if n.finger == finger]
        if len({n.fret for n in at}) > 1:
            yield f"finger {finger} in two places"
        wide = max(n.string for n in at) - min(n.string for n in at) + 1
        if wide > hand.barre_strings[finger - 1]:
            yield f"finger {finger} bars {wide} strings"
    for a, b in combinations(event.notes, 2):
        fault = "" if a.finger == b.finger else reach_fault(rules, a, b)
        if fault:
            yield fault


def faults(study: Study) -> list[str]:
    rules = limits(study)
    found = []
    for event in study.events:
        found += [f"tick {event.onset}: {fault}" for fault in touch_faults(rules, study, event)]
    for a, b in pairwise(study.events):
        found += [f"tick {b.onset}: {fault}" for fault in move_faults(rules, study, a, b)]
    return found


def notes_a_second(study: Study) -> float:
    """The most onsets that a beat of a lick holds, a second; two a beat count as any tempo's due."""
    counts: dict[tuple[int, int], int] = {}
    for event in study.events:
        if study.slots[event.slot].kind is SlotKind.LICK:
            counts[event.slot, event.onset // 12] = counts.get((event.slot, event.onset // 12), 0) + 1
    return max((n for n in counts.values() if n > 2), default=0) / time_s(study, 12)


@pytest.mark.parametrize(("style", "key", "seed"), SOME)
def test_a_study_asks_for_nothing_beyond_the_hand(style, key, seed) -> None:
    assert faults(written(style, key, seed)) == []


@pytest.mark.long
@pytest.mark.parametrize("style", style_names())
@pytest.mark.parametrize("key", KEYS)
def test_no_study_of_any_key_and_style_asks_for_anything_beyond_the_hand(style, key) -> None:
    wrong = {
        seed: found for seed in range(1, 1 + reach(20, 1)) if (found := faults(written(style, key, seed)))
    }
    assert wrong == {}


@pytest.mark.parametrize("style", style_names())
def test_a_first_year_study_keeps_its_rates(style) -> None:
    study = written(style, "F", 2, "first-year")
    rules = limits(study)
    assert faults(study) == []
    # a count is whole, so the limit is rounded to the nearest count
    assert notes_a_second(study) <= rules.level.notes_per_second + 0.5 / time_s(study, 12)


@pytest.mark.long
@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize("style", style_names())
def test_every_level_keeps_its_rates_in_every_key(style, level) -> None:
    for key in some(KEYS, 7):
        for seed in range(1, 1 + reach(3, 1)):
            study = written(style, key, seed, level)
            assert faults(study) == [], (key, seed)
            assert notes_a_second(study) <= limits(study).level.notes_per_second + 0.5 / time_s(study, 12)


@pytest.mark.parametrize("key", ["A", "F"])
def test_a_small_hand_gets_studies_of_its_own_that_it_can_play(key) -> None:
    small, grown = written("slow-shuffle", key, 4, hand="small"), written("slow-shuffle", key, 4)
    assert faults(small) == []
    assert small.events != grown.events
    assert checked(small) == ()


def test_a_grown_hand_does_what_a_small_one_cannot() -> None:
    """The check can say no: some study of a grown hand is beyond the small one."""
    beyond = 0
    for key in ("A", "E", "Bb"):
        study = written("slow-shuffle", key, 1)
        rules = read_rules("slow-shuffle", None, (("hand", "small"),))[1]
        beyond += any(touch for event in study.events for touch in touch_faults(rules, study, event))
        beyond += any(f for a, b in pairwise(study.events) for f in move_faults(rules, study, a, b))
    assert beyond


# ---- tempo ------------------------------------------------------------------------------------------------


def test_a_tempo_outside_the_style_is_refused_with_the_range() -> None:
    with pytest.raises(BriefError, match=r"tempo 130 .* slow-shuffle\.toml allows 44 to 72"):
        write(Brief("slow-shuffle", "A", 7, 130))


@pytest.mark.parametrize("level", LEVELS)
def test_a_slow_style_let_loose_to_130_is_playable_or_says_which_rule_forbids_it(tmp_path, level) -> None:
    style = tmp_path / "loose.toml"
    style.write_text('include = ["slow-shuffle"]\n[study]\ntempo = { least = 44, usual = 58, most = 140 }\n')
    brief = Brief(str(style), "A", 7, 130, level)
    study, refused = None, ""
    try:
        study = write(brief)
    except CannotBeMet as error:
        refused = str(error)
    if study is None:
        assert re.search(r"(level|hand)\.\w+|in bar \d", refused)
        assert level == "first-year"
    else:
        assert study.tempo_bpm == 130
        assert faults(study) == []
