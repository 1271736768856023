"""Keys, chords, degrees and time, as values and functions.

Doors: ``harmony``, ``rhythm``, ``row`` (licks as rows of words).
"""
