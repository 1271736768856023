"""The sound of a Study: a guitar of damped partials and a small band, rendered in numpy alone.

What a caller needs is in ``clips`` (files of a whole study) and ``page`` (the sound of one web page).
"""
