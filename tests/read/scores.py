"""MusicXML written by hand for tests: small files as other programs might write them, a function a part of one."""

from __future__ import annotations

from lickwright.guitar.neck import Neck

STEPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
TUNING = "".join(
    f'<staff-tuning line="{line}"><tuning-step>{step}</tuning-step><tuning-octave>{octave}</tuning-octave></staff-tuning>'
    for line, (step, octave) in enumerate((("E", 2), ("A", 2), ("D", 3), ("G", 3), ("B", 3), ("E", 4)), 1)
)
TAB_DETAILS = f"<staff-details><staff-lines>6</staff-lines>{TUNING}</staff-details>"


def pitch(midi: int) -> str:
    name = STEPS[midi % 12]
    alter = f"<alter>{1}</alter>" if "#" in name else ""
    return f"<pitch><step>{name[0]}</step>{alter}<octave>{midi // 12 - 1}</octave></pitch>"


def note(
    midi: int, duration: int, technical: str = "", *, chord: bool = False, notations: str = "", more: str = "",
    voice: int = 1, grace: bool = False, tie: str = "", staff: int = 0,
) -> str:  # fmt: skip
    ties = "".join(f'<tie type="{t}"/>' for t in tie.split())
    tied = "".join(f'<tied type="{t}"/>' for t in tie.split())
    signs = f"<technical>{technical}</technical>" if technical else ""
    inside = f"<notations>{tied}{notations}{signs}</notations>" if tied or notations or signs else ""
    length = "<grace/>" if grace else ""
    after = "" if grace else f"<duration>{duration}</duration>"
    return (
        f"<note>{length}{'<chord/>' if chord else ''}{pitch(midi)}{after}{ties}<voice>{voice}</voice>{more}"
        f"{f'<staff>{staff}</staff>' if staff else ''}{inside}</note>"
    )


def tab(string: int, fret: int, duration: int, technical: str = "", **more: object) -> str:
    """A note on a string of a guitar in standard tuning."""
    signs = f"<string>{string}</string><fret>{fret}</fret>{technical}"
    return note(Neck().pitch(string, fret), duration, signs, **more)  # type: ignore[arg-type]


def rest(duration: int, voice: int = 1) -> str:
    return f"<note><rest/><duration>{duration}</duration><voice>{voice}</voice></note>"


def backup(duration: int) -> str:
    return f"<backup><duration>{duration}</duration></backup>"


def harmony(step: str, kind: str = "dominant", alter: int = 0) -> str:
    moved = f"<root-alter>{alter}</root-alter>" if alter else ""
    return f"<harmony><root><root-step>{step}</root-step>{moved}</root><kind>{kind}</kind></harmony>"


def attributes(
    divisions: int = 12, fifths: int | None = 3, time: str = "4/4", details: str = TAB_DETAILS, more: str = ""
) -> str:
    beats, unit = time.split("/")
    key = "" if fifths is None else f"<key><fifths>{fifths}</fifths></key>"
    return (
        f"<attributes><divisions>{divisions}</divisions>{key}"
        f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>{details}{more}</attributes>"
    )


def score(
    *bars: str, head: str = "", name: str = "Guitar", doctype: str = "", labels: tuple[str, ...] = ()
) -> bytes:
    """Bars (the text inside <measure>) as a whole file of one part."""
    measures = "".join(
        f'<measure number="{labels[n] if labels else n + 1}">{bar}</measure>' for n, bar in enumerate(bars)
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{doctype}<score-partwise version="4.0">{head}'
        f'<part-list><score-part id="P1"><part-name>{name}</part-name></score-part></part-list>'
        f'<part id="P1">{measures}</part></score-partwise>'
    ).encode()


def lick(technical: str = "<fingering>1</fingering>") -> str:
    """A bar of 4/4 in A over A7 as a teacher might write it: triplets, a hammer-on, a bend, no fingers."""
    hammer = ('<hammer-on type="start">H</hammer-on>', '<hammer-on type="stop"/>')
    bend = "<bend><bend-alter>2</bend-alter></bend>"
    return (
        attributes()
        + harmony("A")
        + rest(4)
        + tab(3, 5, 4, hammer[0])
        + tab(3, 6, 4, hammer[1])
        + tab(2, 5, 8)
        + tab(1, 5, 4)
        + tab(2, 8, 8, bend)
        + tab(2, 5, 4)
        + tab(3, 5, 4)
        + tab(4, 7, 8)
    )
