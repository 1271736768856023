"""From a Study alone to what a person reads, prints or hears. It asks neither rule files nor the solver.

``notation``, ``heads`` and ``accidentals`` decide what score and page both show.

Words: a *format* is one kind of file; ``outputs`` has the table of them.

Doors: ``outputs``, ``tab.text``, ``tab.layout``, ``tab.together``, ``words.compare``, ``words.vary``,
``handout.series_page``.
"""
