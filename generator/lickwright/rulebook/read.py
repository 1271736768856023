"""The rules of a style or of a finished study, read, merged and checked."""

from __future__ import annotations

from lickwright.rulebook.check import mistakes
from lickwright.rulebook.costs import Cost, costs
from lickwright.rulebook.lead import Lead
from lickwright.rulebook.load import Book, Options, RuleFileError, gather
from lickwright.rulebook.rule import Named
from lickwright.rulebook.schema.rule_file import RuleFile
from lickwright.rulebook.whole import grip_rules, study_rules
from lickwright.study.model import Study
from lickwright.theory.harmony import Key


def read_rules(
    style: str, level: str | None = None, options: Options = (), home: str = "", style_home: str | None = None
) -> tuple[Book, RuleFile]:
    """A style's rule files, merged and checked; raises RuleFileError with everything that is wrong.

    ``home`` is the folder of the file that names them, if one does, ``style_home`` the style's when it is another.
    """
    book = gather(style, level, options=options, home=home, style_home=style_home)
    problems = mistakes(book)
    if problems:
        raise RuleFileError(problems)
    return book, RuleFile.model_validate(book.data)


def lead_of(study: Study, style: str | None = None) -> Lead:
    """The rules a study was written by, or another style's for the same player and instrument.

    Raises RuleFileError when the rule files cannot be used.
    """
    brief = study.brief
    if style is None:
        book, rules = read_rules(brief.style, brief.level, brief.options, brief.home)
    else:
        book, rules = read_rules(style, None, brief.options, brief.home, style_home="")
    return Lead(rules, book, study.home, study.neck)


def charges(style: str, level: str | None = None) -> tuple[Cost, ...]:
    """Every number by which a style weighs one thing against another; raises RuleFileError."""
    return costs(*read_rules(style, level))


def sentences(style: str, level: str | None = None) -> tuple[Named, ...]:
    """Every rule of a style as a sentence; raises RuleFileError."""
    book, rules = read_rules(style, level)
    lead = Lead(rules, book, Key("A", rules.study.minor), rules.neck.neck())
    return (*lead.all_rules, *grip_rules(lead), *study_rules(lead))
