"""Given notes fingered: the best way by an oracle of its own, places from the literature, our own licks again."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import islice, pairwise

import networkx as nx
import numpy as np
import pytest
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.places import places
from lickwright.rulebook.read import lead_of, read_rules
from lickwright.rulebook.touches import TouchTable, touch_of, way_of
from lickwright.solver.fixed import GivenNote, fingerings, nearest
from lickwright.solver.moves import candidates
from lickwright.solver.plan.layout import form_spans
from lickwright.study.model import SlotKind, Study
from lickwright.theory.harmony import Key
from lickwright.theory.rhythm import Onset, seconds

from tests.written import a_study

A7 = form_spans(["I7", "I7"])
TEMPO = 60
SHORT = ((0, 4, 69), (4, 8, 72), (12, 4, 74), (24, 12, 69))
RUN = ((0, 4, 69), (4, 8, 72), (12, 4, 74), (16, 8, 72), (24, 12, 69))


@lru_cache(maxsize=4)
def lead(style: str = "slow-shuffle", key: str = "A") -> Lead:
    book, rules = read_rules(style)
    return Lead(rules, book, Key.parse(key, rules.study.minor), rules.neck.neck())


def wanted(notes: tuple[tuple[int, int, int], ...]) -> list[GivenNote]:
    return [GivenNote(Onset(tick, ticks), pitch) for tick, ticks, pitch in notes]


def heard(lick: list[GivenNote]) -> list[int]:
    return [w.pitch + w.bend // 2 for w in lick]


def test_a_fingering_sounds_the_notes_that_were_given():
    for found in islice(fingerings(lead(), wanted(RUN), A7, TEMPO), 20):
        assert [t.pitch for t in found.touches] == [p for _, _, p in RUN]


def test_fingerings_come_the_best_first_and_each_once():
    found = list(islice(fingerings(lead(), wanted(RUN), A7, TEMPO), 60))
    assert [f.cost for f in found] == sorted(f.cost for f in found)
    assert len({(f.touches, f.ways) for f in found}) == len(found)


def test_e4_lies_where_the_literature_says():
    """E4 is string/fret 1/0, 2/5, 3/9, 4/14 (Radicioni and Lombardo, ICMC 2005, Fig. 1), and 5/19 on longer necks."""
    one = [GivenNote(Onset(0, 12), 64)]
    found = fingerings(lead(), one, A7, TEMPO, free=True)
    assert {(f.touches[0].string, f.touches[0].fret) for f in found} == {
        (1, 0),
        (2, 5),
        (3, 9),
        (4, 14),
        (5, 19),
    }


def test_the_best_fingering_is_the_shortest_way_through_a_layered_graph():
    """Layers of (string, fret, finger) for each note, costs on the moves: Sayegh, CMJ 13(3), 1989 [from memory].

    The layers, rules and costs are put together here touch by touch, and the way is networkx's.
    """
    rules = lead()
    onsets = [Onset(t, d) for t, d, _ in SHORT]
    seen = places(onsets, A7, rules.key, "triplet", TEMPO, "answer", 0)
    graph = nx.DiGraph()
    layers = []
    for (_, _, pitch), at in zip(SHORT, seen, strict=True):
        layer = []
        for position in range(1, rules.neck.top_fret + 1):
            for touch in candidates(rules, position):
                row = TouchTable.of([touch])
                plain = touch.pitch == pitch and not (touch.bend or touch.mate_string or touch.grace)
                allowed = plain and all(r.allows(row)[0] for r in rules.touch_rules)
                if allowed and all(r.allows(row, at)[0] for r in rules.onset_rules):
                    cost = sum(int(p.cost(row, at)[0]) for p in rules.onset_preferences)
                    layer.append((len(layers), touch, row, cost))
        layers.append(layer)
    for _, touch, _, cost in layers[0]:
        graph.add_edge("start", (0, touch), weight=cost + 1000)
    for before, after in pairwise(layers):
        for i, a, row_a, _ in before:
            for k, b, row_b, cost in after:
                gap = seconds(onsets[k].tick - onsets[i].tick, TEMPO)
                ways = []
                for way in range(4):
                    how = np.array([way])
                    good = all(r.allows(row_a, row_b, how)[0] for r in rules.move_rules)
                    if good and all(r.needs(row_a, row_b, how)[0] <= gap + 1e-9 for r in rules.time_rules):
                        ways.append(sum(int(p.cost(row_a, row_b, how)[0]) for p in rules.move_preferences))
                if ways:
                    graph.add_edge((i, a), (k, b), weight=min(ways) + cost + 1000)
    for i, touch, _, _ in layers[-1]:
        graph.add_edge((i, touch), "end", weight=0)
    way = nx.shortest_path(graph, "start", "end", weight="weight")
    length = nx.path_weight(graph, way, "weight") - 1000 * len(SHORT)
    line = rules.slot_rules(seen)[0]
    state, charged = int(line.automaton.delta[0, line.first(layers[0][0][2])[0]]), 0
    for a, b in pairwise(SHORT):
        symbol = max(-5, min(5, b[2] - a[2])) + 5
        charged += int(line.automaton.cost[state, symbol])
        state = int(line.automaton.delta[state, symbol])
    best = next(fingerings(rules, wanted(SHORT), A7, TEMPO))
    assert best.cost == length + charged


def test_what_is_known_of_a_note_is_kept():
    lick = wanted(RUN)
    lick[0] = replace(lick[0], string=2, fret=10, finger=1)
    best = next(fingerings(lead(), lick, A7, TEMPO, free=True))
    assert best.touches[0][:3] == (2, 10, 1)


def test_any_notes_can_be_fingered_by_the_hand_alone():
    """The six open strings and a chromatic line over three octaves: no rule file plays those."""
    lick = [GivenNote(Onset(12 * k, 12), 40 + k) for k in range(36)]
    best = next(fingerings(lead(), lick, A7, TEMPO, free=True, hurried=True))
    assert [t.pitch for t in best.touches] == [w.pitch for w in lick]


def test_notes_off_the_neck_have_no_fingering():
    assert next(fingerings(lead(), [GivenNote(Onset(0, 12), 20)], A7, TEMPO, free=True), None) is None


def test_the_nearest_lick_changes_nothing_where_the_rules_are_kept():
    found = nearest(lead(), wanted(RUN), A7, TEMPO)
    assert found is not None
    assert found.changed == ()


def test_the_nearest_lick_changes_the_one_note_that_breaks_a_rule():
    wrong = [*RUN[:2], (12, 4, 73), *RUN[3:]]  # a major third struck from below the minor one's place
    wrong[2] = (12, 4, 71)
    off = (*wrong[:3], (16, 8, 70), wrong[4])  # b2 of the key: in no palette
    found = nearest(lead(), wanted(off), A7, TEMPO)
    assert found is not None
    assert found.changed == (3,)


def own_licks(
    styles: tuple[str, ...], keys: tuple[str, ...], seeds: range, most: int = 1000
) -> list[tuple[Study, Lead, list[GivenNote], str, int]]:
    """Licks as written, all of their touches and ways fixed: ``most`` of them."""
    found = []
    for style in styles:
        for key in keys:
            for seed in seeds:
                study = a_study(style, key, seed)
                rules = lead_of(study)
                for slot in study.slots:
                    events = study.events_of(slot.number)
                    if slot.kind is not SlotKind.LICK or len({e.hand for e in events}) > 1:
                        continue
                    lick = []
                    for k, e in enumerate(events):
                        touch = touch_of(e)
                        onset = Onset(e.onset, e.duration)
                        made = GivenNote.of(onset, touch, way_of(e) if k else None, placed=True)
                        lick.append(replace(made, finger=touch.finger, position=touch.position))
                    found.append((study, rules, lick, slot.role, slot.number))
                    if len(found) == most:
                        return found
    return found


def assert_no_worse(study: Study, rules: Lead, lick: list[GivenNote], role: str) -> None:
    as_written = next(fingerings(rules, lick, study.form, study.tempo_bpm, role))
    bare = [
        replace(w, string=None, fret=None, finger=None, position=None, mate_string=None, way=None)
        for w in lick
    ]
    from_pitches = next(fingerings(rules, bare, study.form, study.tempo_bpm, role))
    assert from_pitches.cost <= as_written.cost
    assert [t.pitch + t.bend // 2 for t in from_pitches.touches] == heard(lick)


def test_our_own_licks_are_fingered_from_pitches_no_worse_than_they_were_written():
    for study, rules, lick, role, _ in own_licks(("slow-shuffle",), ("A",), range(1, 2)):
        assert_no_worse(study, rules, lick, role)


@pytest.mark.long
def test_two_hundred_of_our_own_licks_are_fingered_no_worse_than_they_were_written():
    styles = ("slow-shuffle", "quick-shuffle", "two-chorus")
    licks = own_licks(styles, ("A", "Eb", "F#", "C"), range(1, 4), most=200)
    assert len(licks) == 200
    for study, rules, lick, role, _ in licks:
        assert_no_worse(study, rules, lick, role)
