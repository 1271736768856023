"""The instrument and the hand, as values and functions: necks, strings under tension, reach, fingerings of grips.

Words: a *neck* is tuning, frets, scale length and capo; a *hand* is what fingers reach and hold.

Doors: ``neck``, ``strings``, ``hand``, ``fingering``.
"""
