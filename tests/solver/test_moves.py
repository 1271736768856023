"""The rule graph and what is drawn from it against the rules said again in plain words, touch by touch."""

from __future__ import annotations

from functools import lru_cache
from itertools import islice, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lickwright.guitar.hand import spans_ok
from lickwright.rulebook.touches import HAMMER, PLUCK, PULL, SLIDE, Touch
from lickwright.solver.enumeration import k_best_licks
from lickwright.solver.lattice import Lattice
from lickwright.theory.harmony import semitones
from lickwright.theory.rhythm import BEATS_PER_BAR, TICKS_PER_BAR, TICKS_PER_BEAT, seconds

from tests.solver.instances import LENGTHS, a_lick, style

ROOTS = {"I": 0, "IV": 5, "V": 7}
CHORD = {0: "1", 4: "3", 7: "5", 10: "b7"}
BENT = {1: "quarter", 2: "half", 4: "whole"}
BEND, RELEASED = 1, (2, 3)


def arrives(t: Touch) -> int:
    return t.pitch + t.bend // 2


def leaves(t: Touch) -> int:
    return t.pitch if t.kind in RELEASED else t.pitch + t.bend // 2


def degree_in(listed, pitch: int, root: int) -> bool:  # type: ignore[no-untyped-def]
    return (pitch - root) % 12 in {semitones(d) for d in listed}


def touch_faults(t: Touch) -> list[str]:
    """What a touch breaks of ``[lead.bends]``, ``[lead.techniques]`` and the position."""
    given = style()
    lead, tonic = given.rules.lead, given.key.pitch_class
    found = []
    for string, fret, finger in ((t.string, t.fret, t.finger), (t.mate_string, t.mate_fret, t.mate_finger)):
        if not string:
            continue
        if (fret == 0) != (finger == 0) or fret > given.neck.top_fret:
            found.append("an open string has no finger, a fretted note one")
        if fret and not t.position - 1 <= fret <= t.position + 4:
            found.append("outside the position")
    if t.pitch != given.neck.pitch(t.string, t.fret):
        found.append("the pitch is not the fret's")
    if t.bend:
        size = BENT[t.bend]
        low, high = (t.pitch - tonic) % 12, (arrives(t) - tonic) % 12
        pairs = {tuple(semitones(d) for d in text.split(">")) for text in lead.bends.targets[size]}
        if t.string not in lead.bends.strings or t.finger not in lead.bends.fingers[size]:
            found.append("not a string or finger to bend with")
        if not lead.bends.lowest_fret[size] <= t.fret <= lead.bends.highest_fret:
            found.append("not a fret to bend at")
        if (low, high) not in pairs:
            found.append("not a bend of the style")
        if t.mate_string:
            found.append("a double stop is not bent")
    if t.mate_string and (
        t.mate_string != t.string + 1 or t.pitch - t.mate_pitch not in lead.techniques.double_stop_intervals
    ):
        found.append("not a double stop of the style")
    return found


def move_faults(a: Touch, b: Touch, way: int, gap_s: float) -> list[str]:
    """What a move breaks: leaps, legato, slides, spans, the position and the fingers' speed."""
    given = style()
    lead, hand = given.rules.lead, given.lead.hand
    found = []
    frets = b.fret - a.fret
    if abs(arrives(b) - leaves(a)) > lead.shape.most_leap:
        found.append("a leap too wide")
    if leaves(a) == arrives(b) and a.string != b.string and not (a.bend or b.bend):
        found.append("a pitch struck again on another string")
    if a.position != b.position:
        found.append("the hand moves within the lick")
    plain = not (b.bend or b.grace or b.mate_string or a.mate_string)
    if way in (HAMMER, PULL):
        upward = 1 if way == HAMMER else -1
        near = a.string == b.string and 0 < frets * upward <= lead.techniques.legato_frets
        if not near or (b.finger - a.finger) * upward <= 0 or not plain:
            found.append("no hammer-on or pull-off")
    if way == SLIDE:
        near = a.string == b.string and a.finger == b.finger and 0 < abs(frets) <= lead.techniques.slide_frets
        if not near or not plain or 0 in (a.fret, b.fret):
            found.append("no slide")
    if a.kind and way != PLUCK and not (way == PULL and a.kind in RELEASED):
        found.append("a bent note is left without a stroke")
    reaches = spans_ok(hand, given.neck, a.finger, a.fret, b.finger, b.fret, b.string - a.string)
    if way != SLIDE and not reaches:
        found.append("two fingers too far apart")
    if gap_s < 1 / hand.rate(("pluck", "hammer-on", "pull-off", "slide")[way]) - 1e-6:
        found.append("too fast")
    return found


def onset_faults(t: Touch, roman: str, tick: int, duration: int, last: bool) -> list[str]:
    """What a touch breaks of the palette, the downbeats, the landing and held notes over its chord."""
    given = style()
    lead, tonic = given.rules.lead, given.key.pitch_class
    numeral = roman.rstrip("7")
    root = (tonic + ROOTS[numeral]) % 12
    found = []
    if any(not degree_in(lead.palette[numeral], p, tonic) for p in (arrives(t), leaves(t))):
        found.append("not in the palette")
    beat = tick // TICKS_PER_BEAT % BEATS_PER_BAR + 1
    strong = tick % TICKS_PER_BEAT == 0 and beat in lead.downbeats.strong
    if strong and not degree_in(lead.downbeats.degrees, arrives(t), root):
        found.append("not for a strong beat")
    if last and not degree_in(lead.landing["question"][numeral], leaves(t), tonic):
        found.append("no place to land")
    in_chord = (leaves(t) - root) % 12 in CHORD
    curled = t.bend == 1 and (t.pitch - root) % 12 == 3
    if duration >= lead.shape.held_beats * TICKS_PER_BEAT and not in_chord and not curled:
        found.append("held outside the chord")
    if t.bend and duration < lead.bends.least_beats[BENT[t.bend]] * TICKS_PER_BEAT:
        found.append("no time to bend")
    return found


def line_faults(touches: list[Touch]) -> list[str]:
    """What a whole line breaks: runs, repeats, trills, leaps that are not answered, bends."""
    lead = style().rules.lead
    steps = [arrives(b) - leaves(a) for a, b in pairwise(touches)]
    found = []
    for k in range(len(steps)):
        ahead = steps[k : k + lead.shape.most_run + 1]
        if len(ahead) > lead.shape.most_run and (min(ahead) > 0 or max(ahead) < 0):
            found.append("a run too long")
        if steps[k : k + lead.shape.most_repeats] == [0] * lead.shape.most_repeats:
            found.append("a pitch too often")
        if k >= 2 and 0 < abs(steps[k]) < 5 and steps[k] == -steps[k - 1] == steps[k - 2]:
            found.append("a trill A-B-A-B")
        if (
            k
            and abs(steps[k - 1]) >= 5
            and (abs(steps[k]) >= 5 or (steps[k - 1] * steps[k] > 0 and abs(steps[k]) >= 3))
        ):
            found.append("a leap is not answered")
    if sum(t.bend >= 2 for t in touches) > lead.bends.most_per_lick:
        found.append("too many bends")
    return found


def faults(lattice: Lattice, nodes, edges, start: int = 0) -> list[str]:  # type: ignore[no-untyped-def]
    given = style()
    touches = [lattice.graph.touches[n] for n in nodes]
    ways = lattice.graph.edges.way[list(edges)].tolist()
    bars = given.rules.forms[given.rules.study.form[0]].bars
    lengths = (*LENGTHS[: len(nodes) - 1], 12)
    found = [f for t in touches for f in touch_faults(t)] + line_faults(touches)
    tick = start
    for k, (touch, length) in enumerate(zip(touches, lengths, strict=True)):
        ahead = (tick // TICKS_PER_BAR + 1) * TICKS_PER_BAR
        rings_over = ahead - tick <= 4 and tick + length > ahead
        roman = bars[(ahead if rings_over else tick) // TICKS_PER_BAR]
        found += onset_faults(touch, roman, tick, length, k == len(touches) - 1)
        if k:
            gap = seconds(lengths[k - 1], given.tempo_bpm)
            found += move_faults(touches[k - 1], touch, ways[k - 1], gap)
        tick += length
    return found


@lru_cache(maxsize=64)
def lick_in(position: int, n: int, bar: int) -> Lattice:
    return a_lick(n, (position,), start=TICKS_PER_BAR * bar)


@given(st.integers(2, 12), st.integers(5, 12), st.integers(0, 6), st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_every_drawn_lick_keeps_the_rules_said_plainly(position: int, n: int, bar: int, seed: int) -> None:
    lattice = lick_in(position, n, bar)
    rows, scale = lattice.weights(np.zeros(len(lattice.graph.table)), 12.0)
    entry = lattice.start_log(rows[0], scale, 12.0)
    if not np.isfinite(entry.max()):
        assert lattice.count() == 0
        return
    rng = np.random.default_rng(seed)
    weight = np.exp(entry - entry.max())
    nodes, edges = lattice.draw(rng.choice(len(weight), 12, p=weight / weight.sum()), rows, 12.0, rng)
    for path, moved in zip(nodes, edges, strict=True):
        assert faults(lattice, path, moved, TICKS_PER_BAR * bar) == []


@given(st.integers(2, 12), st.integers(5, 12), st.integers(0, 6), st.booleans())
@settings(max_examples=25, deadline=None)
def test_every_enumerated_lick_keeps_them_too(position: int, n: int, bar: int, fingerings: bool) -> None:
    lattice = lick_in(position, n, bar)
    for found in islice(k_best_licks(lattice, fingerings=fingerings), 15):
        assert faults(lattice, found.nodes, found.edges, TICKS_PER_BAR * bar) == []


@pytest.mark.parametrize("position", [1, 5, 8])
def test_every_touch_and_edge_of_a_position_keeps_the_rules(position: int) -> None:
    graph = lick_in(position, 5, 0).graph
    assert [f for t in graph.touches for f in touch_faults(t)] == []
    source, target, way, _, needs = (x.tolist() for x in graph.edges)
    for a, b, how, least in zip(source, target, way, needs, strict=True):
        assert move_faults(graph.touches[a], graph.touches[b], how, least + 1e-6) == []


def test_every_move_that_the_plain_rules_allow_is_an_edge() -> None:
    """No lick is lost: pairs of touches without an edge break a rule said plainly."""
    graph = lick_in(5, 5, 0).graph
    source, target, way, _, _ = (x.tolist() for x in graph.edges)
    edges = set(zip(source, target, way, strict=True))
    for a, one in enumerate(graph.touches):
        for b, other in enumerate(graph.touches):
            for how in (PLUCK, HAMMER, PULL, SLIDE):
                allowed = not move_faults(one, other, how, 9.0)
                assert allowed == ((a, b, how) in edges), (one, other, how)
