"""The Study, the one value between writing and showing: model, JSON, validation, older forms, and what is computed from it.

``json_text`` reads and writes study files; it asks ``migrate`` for today's form, ``model`` for the types and ``validate``
for what types cannot say, and these three know nothing of it.

Words: a *phrase* is a line of the form; a *slot* a stretch given to a lick or to the comping; an *event* an onset with its
notes. Time is in ticks, 12 to the beat; pitches are MIDI numbers; bends are in quarter tones.

Doors: ``model``, ``json_text``, ``migrate``, ``score_fields``, ``excerpt``, ``sheet``, ``figures``, ``distance``, ``pins``.
"""
