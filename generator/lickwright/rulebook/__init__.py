"""Rule files: what they may say, how they are read, and the rules they give.

Words: a *rule* has a name, a sentence and a source (file and key) and forbids; a *preference* has points instead; a *touch*
is one way to sound an onset; a *move* leads from touch to touch.

Doors: ``read``, ``load``, ``lead``, ``rule``, ``lick_line``, ``whole``, ``effort``, ``places``, ``degrees``,
``development``, ``sense``, ``touches``, ``schema.rule_file``, ``schema.music``, ``schema.practice``, ``schema.vary``.
"""
