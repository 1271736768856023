"""The search: a plan, a graph of touches and moves, lattices over it, and the chain of a whole chorus.

Words: a *plan* says where licks and comping stand and in which rhythm; a *lattice* is the rule graph unrolled over a lick's
onsets; the *chain* links slots by the moves of the hand; a *mask* is what an onset must be.

Doors: ``plan.layout``, ``plan.cells``, ``plan.answers``, ``plan.rhythms``, ``plan.playable``, ``licks``, ``comping``,
``chain``, ``chorus``, ``choruses``, ``kept``, ``fixed``, ``moves``, ``shifts``, ``ringing``, ``bounds``, ``explain.why``,
``explain.problem``.
"""
