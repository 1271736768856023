"""What holds for all tests: hypothesis asserts no times, which say more of the machine than of the program."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
