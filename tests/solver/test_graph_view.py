"""The rule graph as it is shown: networkx view, list and DOT against its columns, the counts against the rules."""

from __future__ import annotations

import re

import networkx as nx
import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.rulebook.touches import PLUCK, TouchTable
from lickwright.solver.explain.graph import dot, listed, position_graph
from lickwright.solver.moves import candidates, rule_graph

from tests.solver.instances import a_lick, style


@pytest.mark.parametrize("positions", [(5,), (1,)])
def test_the_networkx_view_has_each_touch_and_each_move_once(positions: tuple[int, ...]) -> None:
    graph = rule_graph(style().lead, positions)
    view = graph.multigraph
    assert [view.nodes[n]["touch"] for n in view] == list(graph.touches)
    columns = zip(*(column.tolist() for column in graph.edges), strict=True)
    assert sorted(
        (s, t, way, d["cost"], d["needs_s"]) for s, t, way, d in view.edges(keys=True, data=True)
    ) == sorted(columns)


def test_the_view_is_not_built_by_a_search() -> None:
    lattice = a_lick(6)
    lattice.count()
    assert "multigraph" not in vars(lattice.graph)


def test_the_counts_are_what_the_rules_say_touch_by_touch() -> None:
    lead = style().lead
    view = position_graph(lead, 5)
    every = list(dict.fromkeys(candidates(lead, 5)))
    one_by_one = {
        rule.name: sum(not rule.allows(TouchTable.of([touch]))[0] for touch in every)
        for rule in lead.touch_rules
    }
    assert view.candidates == len(every)
    assert dict(view.forbidden_touches) == {name: n for name, n in one_by_one.items() if n}


def test_what_is_left_and_what_is_forbidden_make_up_all_moves() -> None:
    view = position_graph(style().lead, 5)
    forbidden = [n for _, n in view.forbidden_moves]
    gone = view.asked - view.graph.number_of_edges()
    assert max(forbidden) <= gone <= sum(forbidden)


def test_dot_has_every_node_and_edge() -> None:
    view = position_graph(style().lead, 5)
    lines = list(dot(view))
    nodes = [re.fullmatch(r'  (\d+) \[label="[^"]+"\];', line) for line in lines]
    edges = [re.fullmatch(r'  (\d+) -> (\d+)(?: \[label="([a-z-]+)"\])?;', line) for line in lines]
    assert sum(map(bool, nodes)) == len(view.graph)
    read = nx.MultiDiGraph()
    read.add_edges_from((int(m[1]), int(m[2])) for m in edges if m)
    assert sorted(read.edges()) == sorted(view.graph.edges())
    assert len(lines) == len(view.graph) + view.graph.number_of_edges() + 2


def test_the_list_names_each_touch_and_counts_what_may_be_plucked_next() -> None:
    view = position_graph(style().lead, 5)
    plucked = [int(m[1]) for line in listed(view) if (m := re.search(r": (\d+) may be plucked next", line))]
    assert plucked == [
        sum(way == PLUCK for _, _, way in view.graph.out_edges(n, keys=True)) for n in view.graph
    ]


def test_the_command_lists_and_prints_dot() -> None:
    lists = CliRunner().invoke(main, ["rules", "show", "slow-shuffle", "--key", "A", "--graph"])
    assert lists.exit_code == 0, lists.output
    assert lists.output.startswith("position ")
    drawn = CliRunner().invoke(main, ["rules", "show", "slow-shuffle", "--position", "8", "--graph", "dot"])
    assert drawn.output.startswith('digraph "position 8, key of A" {')


def test_a_position_off_the_neck_is_said() -> None:
    result = CliRunner().invoke(main, ["rules", "show", "slow-shuffle", "--position", "40", "--graph"])
    assert result.exit_code == 2
    assert "the neck ends at fret" in result.output
