"""Tablature as text (the page draws its own in ``handout/js/tab.js``)."""
