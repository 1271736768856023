"""Keys, chords, degrees and time, as values and functions.

Doors: ``harmony``, ``rhythm``, ``row`` (licks written as degrees, lengths and techniques).
"""
