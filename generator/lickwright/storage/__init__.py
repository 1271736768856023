"""Files and folders that appear whole or not at all, locks, and TOML from anywhere. It knows nothing of their content.

Doors: ``files``, ``toml_text``.
"""
