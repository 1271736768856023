"""The handout: one page to read, hear and print, as one HTML file, and as PDF where Chromium is found.

``js/`` draws staff and tablature in the browser and plays the sound.
"""

from lickwright.render.handout.page import handout
from lickwright.render.handout.pdf import NoChromiumError, find_chromium, handout_pdf

__all__ = ["NoChromiumError", "find_chromium", "handout", "handout_pdf"]
