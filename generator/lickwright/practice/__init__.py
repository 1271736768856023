"""Practice sheets: from a request, a record and a day to exercises that train what was asked for.

Words: a *goal* is one thing a lick can train; an *exercise* is a lick with its drills; a *record* remembers what was given
and what went well.

Doors: ``write`` (a sheet), ``record`` (its file), ``goals`` (what can be trained).
"""
