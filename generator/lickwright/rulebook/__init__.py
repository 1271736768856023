"""Rule files: what they may say, how they are read, and the rules they give.

Words: a *rule* forbids; it has a name, a sentence for the teacher and a source (file and key). A *preference* charges
points. A *touch* is one way to sound an onset; a *move* leads from touch to touch.

Inside: ``files`` finds rule files, ``load`` merges them, ``check`` and ``sense`` judge them. ``context`` is one rule file
with a key and a neck. The lead's rules by subject: ``reach`` (neck and hand), ``over_chords`` (what may stand on which beat
over which chord, landings), ``bends``, ``ornaments`` (double stops, graces), ``legato``, ``shapes`` (the line), ``written``
(licks written by hand); ``preferences`` has the costs, ``lead`` gathers all, ``whole`` is comping and the study.

Doors: ``read``, ``load``, ``check``, ``nearest``, ``lead``, ``rule``, ``lick_line``, ``whole``, ``effort``,
``places``, ``costs``, ``degrees``, ``development``, ``sense``, ``touches``, ``written``, ``schema.rule_file``,
``schema.music``, ``schema.practice``, ``schema.vary``.
"""
