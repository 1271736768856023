"""What comes out: a study, its phrases and its licks as sound files, at tempo and slower, alone and with
a band.

``write_sound`` is the whole of it; ``recordings`` says what there will be, ``render`` makes one.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import parent_process
from pathlib import Path
from threading import Thread

from lickwright.render.sound.encode import Tags, checked_format, encode
from lickwright.render.sound.loudness import levelled
from lickwright.render.sound.mix import (
    Part,
    Settings,
    Stretch,
    balanced,
    band_part,
    guitar_sound,
    side_by_side,
    timing,
    whole,
)
from lickwright.render.sound.timemap import TimeMap, checked_speed
from lickwright.render.sound.voice import Samples
from lickwright.storage.files import write_whole
from lickwright.study.model import Event, SlotKind, Study
from lickwright.theory.rhythm import TICKS_PER_BAR, TICKS_PER_BEAT

#: Told after each finished recording: how many are done, of how many, and the name of the one just done.
Progress = Callable[[int, int, str], None]
_WORKERS = min(os.cpu_count() or 1, 4)


@dataclass(frozen=True)
class Request:
    """One recording to be made: ``name`` (of the file, without its ending), a heading, what is heard, how
    fast.
    """

    name: str
    heading: str
    stretch: Stretch
    part: Part
    speed: float


@dataclass(frozen=True)
class Recording:
    """A finished recording at -16 LUFS: samples (n,) or (n, 2), and when each event sounds."""

    request: Request
    samples: Samples
    time_map: TimeMap


def phrase_stretch(study: Study, number: int) -> Stretch:
    """A phrase with the pickup before its first bar, if its lick has one."""
    phrase = study.phrases[number]
    slots = {s.number for s in study.slots if s.phrase == phrase.number}
    events = tuple(e for e in study.events if e.slot in slots)
    return _around(events, phrase.first_bar * TICKS_PER_BAR, (phrase.last_bar + 1) * TICKS_PER_BAR)


def lick_stretch(study: Study, slot: int) -> Stretch:
    """A lick from the beat in which it begins."""
    events = study.events_of(slot)
    first = events[0].onset if events else study.slots[slot].start
    return _around(events, first, first)


def _around(events: tuple[Event, ...], start: int, end: int) -> Stretch:
    start = min([start, *(e.onset for e in events)])
    end = max([end, *(e.end + e.ring for e in events)])
    return Stretch(start // TICKS_PER_BEAT * TICKS_PER_BEAT, end, events)


def recordings(study: Study, slow: Sequence[float] = (), band: bool = False) -> tuple[Request, ...]:
    """What there is to hear: the study, each phrase, each lick, at tempo and at each of the ``slow`` speeds.

    With ``band`` also the study with its band, and the band alone to play over. Raises ValueError for a speed
    outside 0.25 to 2.
    """
    speeds = list(dict.fromkeys([1.0, *(checked_speed(s) for s in slow)]))
    made: list[Request] = []
    for speed in speeds:
        suffix = "" if speed == 1.0 else f"-at-{100 * speed:g}"
        parts = [("study", Part.GUITAR)]
        parts += [("study-with-band", Part.BOTH), ("band", Part.BAND)] if band else []
        made += [Request(name + suffix, study.title, whole(study), part, speed) for name, part in parts]
        made += [
            Request(
                f"phrase-{i + 1}{suffix}",
                f"{study.title}, phrase {i + 1}",
                phrase_stretch(study, i),
                Part.GUITAR,
                speed,
            )
            for i in range(len(study.phrases))
        ]
        licks = [s.number for s in study.slots if s.kind is SlotKind.LICK and study.events_of(s.number)]
        made += [
            Request(
                f"lick-{i}{suffix}", f"{study.title}, lick {i}", lick_stretch(study, slot), Part.GUITAR, speed
            )
            for i, slot in enumerate(licks, 1)
        ]
    return tuple(made)


def render(study: Study, request: Request, settings: Settings = Settings()) -> Recording:  # noqa: B008
    """One recording: the guitar alone begins at once, with a band or a click there is a bar counted in
    before.
    """
    counted = settings.count_in and request.part is not Part.GUITAR
    clock, times = timing(study, request.stretch, request.speed, counted)
    args = (study, request.stretch, clock, times.length_s, settings)
    if request.part is Part.GUITAR:
        samples = guitar_sound(*args)
    elif request.part is Part.BAND:
        samples = band_part(*args)
    else:
        samples = side_by_side(*balanced(guitar_sound(*args), band_part(*args)), settings.width)
    return Recording(request, levelled(samples), times)


def tags_of(study: Study, request: Request) -> Tags:
    """Title, number, key and the tempo at which this recording goes."""
    return Tags(request.heading, study.number, study.home.name, round(study.tempo_bpm * request.speed, 1))


def write_sound(
    study: Study,
    folder: Path,
    *,
    format: str = "mp3",
    slow: Sequence[float] = (),
    band: bool = False,
    settings: Settings = Settings(),  # noqa: B008
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Writes every recording of ``recordings`` into ``folder`` and gives the files' paths in that order.

    Two are made at a time. A file is written whole or not at all; what was finished before an error
    stays. Raises ValueError for an unknown format or a speed out of reach (before anything is made),
    OSError when the folder cannot be written.
    """
    ending = checked_format(format)
    wanted = recordings(study, slow, band)
    folder.mkdir(parents=True, exist_ok=True)

    make = partial(_written, study, folder, ending, settings)
    paths: list[Path] = []
    with ProcessPoolExecutor(_WORKERS, initializer=_ends_with_its_parent) as workers:
        jobs = [workers.submit(make, request) for request in wanted]
        try:
            for job, request in zip(jobs, wanted, strict=True):
                paths.append(job.result())
                if progress is not None:
                    progress(len(paths), len(wanted), request.name)
        except BaseException:
            workers.shutdown(cancel_futures=True)
            raise
    return tuple(paths)


def _ends_with_its_parent() -> None:
    """Lets a worker end as soon as the process that gave it work is gone: a killed one cannot tell it to."""

    def watch() -> None:
        if (parent := parent_process()) is not None:
            parent.join()
            os._exit(1)

    Thread(target=watch, daemon=True).start()


def _written(study: Study, folder: Path, ending: str, settings: Settings, request: Request) -> Path:
    """Renders one recording and writes it, in a process of its own: numpy's small steps hold on to Python's lock."""
    recording = render(study, request, settings)
    path = folder / f"{request.name}.{ending}"
    write_whole(path, encode(recording.samples, ending, tags_of(study, request)))
    return path
