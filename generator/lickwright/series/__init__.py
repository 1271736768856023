"""A folder of numbered studies: its choices, its next number, its list and page.

Words: a *number* is one study of a series; the study files are the record, ``series.toml`` holds only what the user chose.

Doors: ``add`` (the next number), ``index`` (list and page), ``file`` (its choices).
"""
