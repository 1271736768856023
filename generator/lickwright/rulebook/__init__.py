"""Rule files: what they may say, how they are read, and the rules they give.

Words: a *rule* has a name, a sentence and a source (file and key) and forbids; a *preference* has points instead; a *touch*
is one way to sound an onset; a *move* leads from touch to touch.

Modules: ``files`` finds, ``load`` merges, ``check`` and ``sense`` judge rule files; ``context`` holds one of them with a
key and a neck; ``reach``, ``notes``, ``bends``, ``ornaments``, ``legato`` and ``shapes`` make the lead's rules from it,
``preferences`` its costs; ``lead`` gathers both; ``whole`` has the rules of comping and of the study.

Doors: ``read``, ``load``, ``check``, ``nearest``, ``lead``, ``rule``, ``lick_line``, ``whole``, ``effort``,
``places``, ``costs``, ``degrees``, ``development``, ``sense``, ``touches``, ``written``, ``schema.rule_file``,
``schema.music``, ``schema.practice``, ``schema.vary``.
"""
