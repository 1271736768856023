"""The commands, a module each: they parse, make one call, print. No musical decision is made here.

Doors: every command module; ``shared`` holds what several of them use.
"""
