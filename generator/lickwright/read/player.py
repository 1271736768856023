"""The player whom a file of another program is for: read with a style's rules, and with the file's own player if it is ours.

A score that this program wrote says for which level, hand, neck and strings. Shipped ones are taken at their word; a
rule file of the user's own is not looked for, so that no file that is read names another to be opened.
"""

from __future__ import annotations

from lickwright.rulebook.load import Book, Options, RuleFileError, last_names
from lickwright.rulebook.read import read_rules
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import Brief

#: What of a brief says something of the player, in the order in which it is merged.
KINDS = ("neck", "strings", "hand")


def player_rules(style: str, own: Brief | None = None) -> tuple[Book, RuleFile]:
    """A style's rules for the player of a file's ``own`` brief, or for the style's usual one where there is none.

    Raises RuleFileError when the style cannot be used.
    """
    named = dict(own.options) if own is not None else {}
    options: Options = tuple((kind, named[kind]) for kind in KINDS if named.get(kind) in last_names(kind))
    level = own.level if own is not None and own.level in last_names("level") else None
    try:
        return read_rules(style, level, options)
    except RuleFileError:
        # The file's own do not go with the style; only what was written by hand has such.
        return read_rules(style)
