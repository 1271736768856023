"""Writes a study again from its brief, to prove that it comes from it."""

from __future__ import annotations

from dataclasses import replace

from lickwright.compose.setting import BriefError
from lickwright.compose.write import write
from lickwright.study.model import Study
from lickwright.theory.rhythm import beat_text


def rewritten(study: Study) -> tuple[str, ...]:
    """Writes a study again from its brief and says what came out otherwise; empty when it is the same.

    Raises BriefError for a study that was not made from its brief alone, and as ``write`` does.
    """
    if study.origin:
        raise BriefError(
            [f"it was made from more than its brief ({study.origin}): that cannot be written again"]
        )
    again = write(study.brief)
    if study.hard_moments is None:
        again = replace(again, hard_moments=None)
    if replace(again, tool_version=study.tool_version) == study:
        return ()
    now = {digest.name: digest.sha256 for digest in again.rules}
    then = {digest.name: digest.sha256 for digest in study.rules}
    differences = [
        f"rule file {name}: not the one it was written by" for name in now if now[name] != then.get(name)
    ]
    differences += [f"rule file {name}: not read any more" for name in then if name not in now]
    if again.tool_version != study.tool_version:
        differences.append(f"written by version {study.tool_version}, this is {again.tool_version}")
    first = next((a for a, b in zip(study.events, again.events, strict=False) if a != b), None)
    if first is not None:
        differences.append(f"{beat_text(first.onset)}: the first event that comes out otherwise ({first.id})")
    return tuple(differences or ["it differs in more than its events: title, slots, hard moments or cost"])
