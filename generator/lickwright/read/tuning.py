"""The neck a file is for: its tuning said or worked out from its tab, its pitches held against the places."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from lickwright.guitar.neck import TUNINGS, Neck
from lickwright.read.limits import UnreadableError
from lickwright.read.sounds import Score, Sound
from lickwright.theory.harmony import Key, spell
from lickwright.theory.rhythm import beat_text

#: Frets of a neck that a file says nothing about, and the most there are.
FRETS, MOST_FRETS = 20, 27
#: Fewer strings make no neck to find a position on; more have no instrument.
LEAST_STRINGS, MOST_STRINGS = 2, 12


def neck_of(score: Score, usual: Neck) -> Neck:
    """The neck: the file's own, or ``usual`` with the file's tuning and capo, long enough for its frets.

    Raises UnreadableError when no tuning fits the tab.
    """
    top = max((s.fret for s in score.sounds if s.fret is not None), default=0)
    own = score.fields.neck
    tuning = score.tuning or _worked_out(score, usual)
    if not LEAST_STRINGS <= len(tuning) <= MOST_STRINGS:
        raise UnreadableError(
            f"a tuning of {len(tuning)} strings: {LEAST_STRINGS} to {MOST_STRINGS} are read"
        )
    if own is not None and own.tuning == tuning and own.capo == score.capo and top <= own.top_fret:
        return own
    frets = max(usual.frets, min(MOST_FRETS, top + score.capo))
    return replace(usual, tuning=tuning, capo=score.capo, frets=frets)


def _worked_out(score: Score, usual: Neck) -> tuple[int, ...]:
    """The open strings that make the tab's places the written pitches; those never played are the usual ones."""
    seen: dict[int, Counter[int]] = {}
    for s in score.sounds:
        if s.string is not None and s.fret is not None and s.bend is None:
            seen.setdefault(s.string, Counter())[s.pitch - s.fret - score.capo] += 1
    strings = max(seen, default=0)
    plain = usual.tuning
    if strings > len(plain):
        plain = (
            TUNINGS["seven strings"]
            if strings == 7
            else plain + tuple(plain[-1] - 5 * k for k in range(1, strings - 5))
        )
    tuning = list(plain)
    octave = _octave(seen, plain)
    for string, counts in seen.items():
        tuning[string - 1] = counts.most_common(1)[0][0] - octave
    if tuning != list(plain):
        names = " ".join(str(spell(p, Key("C"))) for p in reversed(tuning))
        score.remarks.add(f"no tuning in the file: its tab and pitches give {names}")
    return tuple(tuning)


def _octave(seen: dict[int, Counter[int]], plain: tuple[int, ...]) -> int:
    """12 when every string comes out an octave above its usual pitch: written as guitar music is, 8 higher."""
    off = {counts.most_common(1)[0][0] - plain[string - 1] for string, counts in seen.items()}
    return 12 if off and all(10 <= x <= 14 for x in off) else 0


def corrected(score: Score, neck: Neck) -> list[Sound]:
    """The sounds with the pitch of their place; raises UnreadableError where tab and pitch disagree."""
    off: Counter[int] = Counter()
    for s in score.sounds:
        if s.string is not None and s.fret is not None and s.bend is None:
            _on_neck(s, neck)
            off[s.pitch - neck.pitch(s.string, s.fret)] += 1
    shift = off.most_common(1)[0][0] if off else 0
    if shift % 12:
        shift = 0
    if shift:
        score.remarks.add(
            f"written {abs(shift) // 12} octave {'above' if shift > 0 else 'below'} the tab; read as the tab"
        )
    return [_placed(s, neck, shift) for s in score.sounds]


def _on_neck(s: Sound, neck: Neck) -> None:
    assert s.string is not None
    assert s.fret is not None
    if s.string > neck.strings:
        raise UnreadableError(
            f"{beat_text(s.tick)}: string {s.string}; the tuning has {neck.strings} strings"
        )
    if s.fret > neck.top_fret:
        raise UnreadableError(f"{beat_text(s.tick)}: fret {s.fret}; the neck has {neck.top_fret}")


def _placed(s: Sound, neck: Neck, shift: int) -> Sound:
    if s.string is None or s.fret is None:
        return replace(s, pitch=s.pitch - shift)
    _on_neck(s, neck)
    place = neck.pitch(s.string, s.fret)
    target = s.bend.size // 2 if s.bend else 0
    if not s.muted and s.pitch - shift not in (place, place + target):
        says, gives = (spell(p, Key("C")) for p in (s.pitch - shift, place))
        raise UnreadableError(
            f"{beat_text(s.tick)}: string {s.string} fret {s.fret} is {gives}, but the note is written {says}: "
            "one of tab, pitch and tuning is wrong"
        )
    grace = s.grace
    if grace is not None and grace.fret is None:
        grace = replace(grace, fret=s.fret + grace.pitch - shift - place)
    return replace(s, pitch=place, grace=grace)
