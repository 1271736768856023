"""The player whom a study is for, as far as the shipped rule files know: for what looks at a study alone.

The study names a level and perhaps a shipped hand or strings, which are read; a rule file of the user's own is
not, so that the same study is always looked at with the same eyes.
"""

from __future__ import annotations

from functools import lru_cache

from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book, Options, gather, last_names
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.study.model import Study

#: Any shipped style does: all of them are for the same hand.
STYLE = "slow-shuffle"
#: What says something of the player's hands, in the order in which it is merged.
KINDS = ("level", "neck", "strings", "hand")


def usual_lead(study: Study) -> Lead | None:
    """The rules of the usual player on the study's neck; None for a neck that the strings do not fit."""
    named = dict(study.brief.options) | {"level": study.level}
    options = tuple((kind, named[kind]) for kind in KINDS if named.get(kind) in last_names(kind))
    book, rules = _read(options)
    lead = Lead(rules, book, study.home, study.neck)
    return lead if study.neck.strings <= len(lead.strings.gauges) else None


@lru_cache(maxsize=16)
def _read(options: Options) -> tuple[Book, RuleFile]:
    try:
        book = gather(STYLE, options=options)
        return book, RuleFile.model_validate(book.data)
    except ValueError:
        # Options that do not go together: only a study file that was written by hand has them.
        book = gather(STYLE)
        return book, RuleFile.model_validate(book.data)
