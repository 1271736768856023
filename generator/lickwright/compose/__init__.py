"""From a brief to a Study, and from a Study to another: written, varied, chosen, counted.

Words: a *brief* is what was asked for; its *setting* is the brief with rules read, key, neck and tempo.

Doors: ``setting``, ``write``, ``to_study``, ``vary``, ``choose``, ``round_lick``, ``count``, ``rewrite``.
"""
