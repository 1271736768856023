"""The studies that some briefs gave when ``golden.json`` was last renewed: ``python -m tests.robust.golden`` does.

Only the events are kept, as a digest. A change of rules or of the solver that is meant changes them: renew, and say so.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path

from lickwright.compose.write import write
from lickwright.study.model import Brief, Study

GOLDEN = Path(__file__).resolve().parent / "golden.json"
BRIEFS = (
    Brief("slow-shuffle", "A", 7),
    Brief("quick-shuffle", "E", 3, level="fluent"),
    Brief("minor-slow", "D", 12),
    Brief("rhumba", "G", 1, level="first-year"),
    Brief("slow-shuffle", "Bb", 2, options=(("hand", "small"), ("strings", "extra-light"))),
)


def name_of(brief: Brief) -> str:
    """A brief in words."""
    more = [brief.level or "", *(" ".join(option) for option in brief.options)]
    return " ".join(filter(None, (brief.style, brief.key, str(brief.seed), *more)))


def digest(study: Study) -> str:
    """The SHA-256 of a study's events."""
    return hashlib.sha256(json.dumps([asdict(event) for event in study.events]).encode()).hexdigest()


def digests() -> dict[str, str]:
    """What the briefs give now."""
    return {name_of(brief): digest(write(brief)) for brief in BRIEFS}


if __name__ == "__main__":
    GOLDEN.write_text(json.dumps(digests(), indent=1) + "\n", encoding="utf-8")
