"""The search for licks and comping: exact, over graphs made from rule files.

The road of a lick:
1. rule file -> rules: ``rulebook.lead.Lead`` holds each limit as a named predicate over columns of touches.
2. rules -> graph: ``moves.rule_graph`` keeps the touches and moves that the rules allow in a position.
3. graph -> lattice: ``licks.LickMaker.lattice`` unrolls it over a planned lick's onsets, with ``automaton`` for the order.
4. lattice -> chain: ``chain.Chain`` joins the lattices of all licks and the comping by the moves of the hand.
5. chain -> chorus: ``chorus.Chorus`` runs the backward pass and draws paths forward; ``enumeration`` lists them best first.

The words (plan, layer, message, mark ...) are those of the glossary in DEVELOPERS.md.

Doors: ``plan.layout``, ``plan.cells``, ``plan.answers``, ``plan.rhythms``, ``plan.playable``, ``licks``, ``comping``,
``chain``, ``chorus``, ``choruses``, ``kept``, ``fixed``, ``moves``, ``shifts``, ``ringing``, ``bounds``, ``explain.why``,
``explain.problem``, ``explain.graph``.
"""
