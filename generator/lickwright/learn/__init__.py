"""Weights and rhythms of a rule file estimated from licks, so that new licks carry their accent.

Words: an *example* is a lick in a style's terms; a *site* is a point where a lick chose among several touches.

Doors: ``examples``, ``style`` (all that is learned), ``rule_file`` (written down).
"""
