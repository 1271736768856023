"""What judges a finished study: the rules once more, and measures. It never asks the solver.

Words: a *violation* is a broken rule with its bar; a *measure* is a number about the music with a usual band; *effort* is
what the hands are asked.

Doors: ``check``, ``effort``, ``measure``, ``measure_lead``, ``passage``, ``sets``, ``compare``.
"""
