"""What a finished study is written as: one table of formats, and folders that appear whole or not at all.

Each format imports what it needs only when it is asked for.
"""

from __future__ import annotations

import dataclasses
import os
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lickwright.storage.files import (
    exchange,
    folder_rights,
    partial_folder,
    remove_abandoned,
    sync_folder,
    sync_tree,
    write_whole,
)
from lickwright.study.json_text import to_json
from lickwright.study.model import Study

if TYPE_CHECKING:
    from lickwright.judge.compare import Comparison
    from lickwright.render.sound.mix import Settings

#: Told (done, of all, name) as files are finished.
Progress = Callable[[int, int, str], None]
STUDY = "study.json"
BACKUP = ".backup"
SLOW_SPEEDS = (0.5, 0.75)


class OutputError(ValueError):
    """An output that cannot be made: the message says why and what would help."""


class TakenError(OutputError):
    """A folder whose name is taken, now or since the work on it began."""


@dataclass(frozen=True)
class SoundOptions:
    """``speeds`` slower versions besides the tempo itself; ``band`` adds the study with band and band alone;
    ``driven`` the driven tone; ``click`` a click in place of the drums; ``human`` small differences of timing;
    ``progress`` is told of each finished recording.
    """

    speeds: tuple[float, ...] = SLOW_SPEEDS
    band: bool = False
    driven: bool = False
    click: bool = False
    human: bool = True
    progress: Progress | None = None


def _json(study: Study, folder: Path, sound: SoundOptions) -> None:
    write_whole(folder / STUDY, to_json(study).encode())


def _musicxml(study: Study, folder: Path, sound: SoundOptions) -> None:
    from lickwright.render.score.write import musicxml

    write_whole(folder / "study.musicxml", musicxml(study))


def _midi(study: Study, folder: Path, sound: SoundOptions) -> None:
    from lickwright.render.midi.write import midi

    write_whole(folder / "study.mid", midi(study))


def _tab(study: Study, folder: Path, sound: SoundOptions) -> None:
    write_whole(folder / "study.txt", text_sheet(study).encode())


def _html(study: Study, folder: Path, sound: SoundOptions) -> None:
    write_whole(folder / "study.html", page(study, sound).encode())


def _pdf(study: Study, folder: Path, sound: SoundOptions) -> None:
    from lickwright.render.handout.page import handout
    from lickwright.render.handout.pdf import NoChromiumError, handout_pdf

    try:
        handout_pdf(handout(study), folder / "study.pdf")
    except NoChromiumError as error:
        raise OutputError(str(error)) from None


def _sound(format: str) -> Callable[[Study, Path, SoundOptions], None]:
    def write(study: Study, folder: Path, sound: SoundOptions) -> None:
        from lickwright.render.sound.clips import write_sound

        try:
            write_sound(
                study,
                folder / "sound",
                format=format,
                slow=sound.speeds,
                band=sound.band,
                settings=_settings(sound),
                progress=sound.progress,
            )
        except ValueError as error:
            raise OutputError(str(error)) from None

    return write


def _settings(sound: SoundOptions) -> Settings:
    from lickwright.render.sound.amplifier import Tone
    from lickwright.render.sound.mix import Settings

    tone = Tone.DRIVEN if sound.driven else Tone.CLEAN
    return Settings(tone=tone, click=sound.click, human=sound.human)


#: Every format by name: the one place where one is added.
FORMATS: dict[str, Callable[[Study, Path, SoundOptions], None]] = {
    "json": _json,
    "musicxml": _musicxml,
    "midi": _midi,
    "tab": _tab,
    "html": _html,
    "pdf": _pdf,
    "mp3": _sound("mp3"),
    "flac": _sound("flac"),
    "wav": _sound("wav"),
}


def text_sheet(study: Study) -> str:
    """The study as a text file: the tab, then what a teacher says of it."""
    from textwrap import fill

    from lickwright.render.tab.text import WIDTH, tab
    from lickwright.render.words.practice import phrase_name
    from lickwright.render.words.text import phrase_words, study_words

    parts = [tab(study), *([] if study.drills else [fill(study_words(study), WIDTH)])]
    for number, words in enumerate(phrase_words(study), 1):
        name = phrase_name(study, number - 1, f"Phrase {number}")
        parts.append(f"{name}\n" + fill(words.text, WIDTH))
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def page(study: Study, sound: SoundOptions) -> str:
    """The handout page with its sound."""
    from lickwright.render.handout.page import handout
    from lickwright.render.sound.page import page_sound

    return handout(study, sound=page_sound(study, settings=_settings(sound)))


def compare_page(comparison: Comparison, sound: SoundOptions | None) -> str:
    """The page that holds studies or licks side by side, with sound unless that is None."""
    from lickwright.render.handout.compare import compare_page as made
    from lickwright.render.sound.page import together_sound

    if sound is None:
        return made(comparison)
    shown = [entry.shown for entry in comparison.entries]
    return made(comparison, sound=together_sound(shown, _settings(sound)))


def checked_formats(names: Sequence[str]) -> tuple[str, ...]:
    """The formats, each once; raises OutputError naming those there are."""
    unknown = [n for n in names if n not in FORMATS]
    if unknown:
        raise OutputError(f"unknown format {unknown[0]!r}: use some of {', '.join(FORMATS)}")
    return tuple(dict.fromkeys(names))


def write_formats(
    study: Study, folder: Path, formats: Sequence[str], sound: SoundOptions, progress: Progress | None = None
) -> None:
    """Writes a study in the formats into a folder that exists, each file whole; raises OutputError or OSError."""
    formats = checked_formats(formats)
    for done, name in enumerate(formats):
        if progress is not None:
            progress(done, len(formats), name)
        FORMATS[name](study, folder, dataclasses.replace(sound, progress=progress))


@contextmanager
def new_folder(folder: Path, replace: bool, sign: str = STUDY) -> Iterator[Path]:
    """A folder to fill that takes its name only when all in it is whole and on the disk.

    Raises OutputError when the folder exists and is not to be replaced, or cannot be made. Only a folder
    with a file that matches ``sign``, or with nothing in it, is replaced: it keeps its name until the new one takes it.
    What killed runs have left of the same folder is removed, and an old one that they had set aside comes back.
    """
    checked = folder
    folder = folder.resolve()
    _restore(folder)
    if folder.exists() and not replace:
        raise _taken(checked)
    if Path.cwd().is_relative_to(folder):
        raise OutputError(f"{folder} is where you are: choose another --out, or go elsewhere first")
    _check_replaceable(checked, sign)
    parent = folder.parent
    if not parent.is_dir():
        raise OutputError(f"{parent} is no folder: make it first, or choose another --out")
    remove_abandoned(parent, re.escape(folder.name))
    with ExitStack() as stack:
        try:
            partial = stack.enter_context(partial_folder(folder))
        except OSError as error:
            raise OutputError(f"{parent} cannot be written ({error.strerror})") from None
        yield partial
        partial.chmod(folder_rights())
        sync_tree(partial)
        _swap(partial, folder, replace)
        sync_folder(parent)


def _check_replaceable(folder: Path, sign: str) -> None:
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError(f"{folder} is no folder: choose another --out")
    if not any(folder.glob(sign)) and any(folder.iterdir()):
        raise OutputError(f"{folder} holds no {sign}, so it is not replaced: choose another --out")


def _taken(folder: Path) -> TakenError:
    return TakenError(f"{folder} exists: choose another --out, or add --replace")


def _swap(partial: Path, folder: Path, replace: bool) -> None:
    """Gives the new folder its name; afterwards the old one is gone."""
    if not folder.exists() or not replace:
        try:
            partial.rename(folder)
        except OSError:
            if folder.exists():
                raise _taken(folder) from None
            raise
    elif exchange(partial, folder):
        shutil.rmtree(partial, ignore_errors=True)
    else:
        backup = folder.with_name(f".{folder.name}.{os.getpid()}{BACKUP}")
        folder.rename(backup)
        try:
            partial.rename(folder)
        except OSError:
            backup.rename(folder)
            raise
        shutil.rmtree(backup, ignore_errors=True)


def _restore(folder: Path) -> None:
    """Undoes what a run did that was killed between setting the old folder aside and naming the new one."""
    if not folder.parent.is_dir():
        return
    mine = re.compile(rf"\.{re.escape(folder.name)}\.\d+{re.escape(BACKUP)}")
    backups = sorted(p for p in folder.parent.iterdir() if mine.fullmatch(p.name))
    for backup in backups:
        if folder.exists():
            shutil.rmtree(backup, ignore_errors=True)
        else:
            backup.rename(folder)
