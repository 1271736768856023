"""Files made to do harm, or merely broken: one line that says why, and nothing expanded, fetched or written."""

from __future__ import annotations

import io
import os
import random
import zipfile

import mido
import pytest
from click.testing import CliRunner
from lickwright.cli import main
from lickwright.read.files import read_bytes
from lickwright.read.limits import MAX_BARS, MAX_BYTES, MAX_REMARKS, UnreadableError

from tests.read.scores import attributes, lick, note, score, tab

BOMB = (
    '<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)
FETCH = '<!DOCTYPE score-partwise [<!ENTITY f SYSTEM "file:///etc/hostname">]>'
PARAMETER = '<!DOCTYPE score-partwise [<!ENTITY % p SYSTEM "http://localhost:1/x.dtd"> %p;]>'
PLAIN = '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://localhost:1/p.dtd">'


def refusal(data: bytes) -> str:
    with pytest.raises(UnreadableError) as caught:
        read_bytes(data)
    assert len(caught.value.problems) == 1
    text = caught.value.problems[0]
    assert "\n" not in text
    assert len(text) < 300
    return text


def packed(*files: tuple[str, bytes], container: str = "score.xml") -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr(
            "META-INF/container.xml",
            f'<container><rootfiles><rootfile full-path="{container}"/></rootfiles></container>',
        )
        for name, data in files:
            file.writestr(name, data)
    return made.getvalue()


@pytest.mark.parametrize("doctype", [BOMB, FETCH, PARAMETER], ids=["bomb", "file", "parameter"])
def test_entities_are_refused_not_expanded(doctype):
    assert "declares entities" in refusal(score(lick(), doctype=doctype))


def test_a_document_type_is_not_fetched():
    assert read_bytes(score(lick(), doctype=PLAIN)).study.events


def test_deep_nesting_is_refused():
    deep = "<a>" * 100_000 + "</a>" * 100_000
    assert "nest deeper" in refusal(score(attributes() + deep))


def test_a_file_beyond_the_size_is_refused_at_once():
    assert "bytes" in refusal(b"<score-partwise>" + b" " * (MAX_BYTES + 1))


def test_a_zip_bomb_is_not_unpacked():
    bomb = packed(("score.xml", b" " * (MAX_BYTES + 1)))
    assert len(bomb) < 100_000
    assert "unpacks to more than" in refusal(bomb)


@pytest.mark.parametrize(
    "name", ["../score.xml", "/score.xml", "a/../../score.xml", "C:score.xml", "\\score.xml"]
)
def test_paths_that_lead_out_of_a_packed_score_are_refused(name):
    assert "outside its folder" in refusal(packed((name, score(lick())), container=name))


def test_a_packed_score_that_names_what_is_not_there_is_refused():
    assert "not in it" in refusal(packed(container="other.xml"))
    assert "container.xml is missing" in refusal(_zip({"score.xml": score(lick())}))


def _zip(files: dict[str, bytes]) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as file:
        for name, data in files.items():
            file.writestr(name, data)
    return made.getvalue()


def test_a_packed_score_in_a_packed_score_is_refused():
    assert "no MusicXML" in refusal(packed(("score.xml", packed(("score.xml", score(lick()))))))


def test_a_packed_score_with_too_many_files_is_refused():
    assert "files packed" in refusal(_zip({f"{n}.xml": b"" for n in range(2000)}))


@pytest.mark.parametrize(
    "bar",
    [
        attributes() + note(69, 10**30),
        attributes() + tab(2, 5, 48).replace("<duration>48", "<duration>1e400"),
        attributes() + tab(2, 5, 48).replace("<duration>48", "<duration>-48"),
        attributes() + tab(2, 5, 48).replace("<octave>4", "<octave>99999"),
        attributes() + tab(2, 5, 48).replace("<fret>5", "<fret>" + "9" * 4000),
        attributes(time="4/4").replace("<beats>4", "<beats>99999999") + tab(2, 5, 48),
        attributes(fifths=99) + tab(2, 5, 48),
        attributes(divisions=10**9) + tab(2, 5, 48),
        attributes() + '<harmony><root><root-step>A</root-step><root-alter>900</root-alter></root><kind/></harmony>'
        + tab(2, 5, 48),
        attributes() + tab(2, 5, 48, "<bend><bend-alter>9999</bend-alter></bend>"),
    ],
)  # fmt: skip
def test_numbers_beyond_sense_name_their_bar(bar):
    assert refusal(score(bar)).startswith(("bar 1", "not read"))


def test_more_bars_than_a_score_may_have_are_refused():
    bars = [attributes() + tab(2, 5, 48)] + [tab(2, 5, 48)] * MAX_BARS
    assert "bars" in refusal(score(*bars))


def test_nested_repeats_do_not_run_away():
    again = '<barline location="right"><repeat direction="backward" times="16"/></barline>'
    bars = [attributes() + tab(2, 5, 48)] + [tab(2, 5, 48) + again] * 50
    assert "repeats" in refusal(score(*bars))


def test_remarks_do_not_grow_without_end():
    bars = [attributes() + tab(2, 5, 48, tie="stop"), *[tab(2, 5, 48, tie="stop")] * 60]
    assert len(read_bytes(score(*bars)).remarks) <= MAX_REMARKS + 2


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00",
        b"PK\x03\x04",
        b"MThd",
        b"<",
        b"<html/>",
        b"\xff\xfe<",
        b"not music",
        b"[1]",
        b"<score-partwise/>",
    ],
)
def test_what_is_no_music_is_told_so(data):
    refusal(data)


def test_broken_files_are_read_or_refused_in_one_line():
    """Ten thousand single-byte faults would be better; a few hundred run with the rest of the tests."""
    generator = random.Random(3)
    good = [score(lick()), packed(("score.xml", score(lick()))), _midi()]
    for _ in range(120):
        data = bytearray(generator.choice(good))
        for _ in range(generator.randint(1, 6)):
            data[generator.randrange(len(data))] = generator.randrange(256)
        assert "\n" not in said(bytes(data))


def said(data: bytes) -> str:
    try:
        return "".join(read_bytes(data).remarks)
    except UnreadableError as error:
        return "".join(error.problems)


def _midi() -> bytes:
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for pitch in (69, 72, 74, 69):
        track.append(mido.Message("note_on", note=pitch, velocity=90, time=0))
        track.append(mido.Message("note_off", note=pitch, time=480))
    made = io.BytesIO()
    file.save(file=made)
    return made.getvalue()


@pytest.mark.parametrize("cut", [10, 20, 40, 60])
def test_midi_that_is_cut_off_is_refused(cut):
    assert "MIDI" in refusal(_midi()[:cut])


def test_midi_in_film_frames_or_of_type_two_is_refused():
    data = bytearray(_midi())
    frames, two = bytearray(data), bytearray(data)
    frames[12] = 0xE8
    two[9] = 2
    assert "film frames" in refusal(bytes(frames))
    assert "type 2" in refusal(bytes(two))


def test_the_command_says_one_line_and_ends_with_two(tmp_path):
    path = tmp_path / "bomb.musicxml"
    path.write_bytes(score(lick(), doctype=BOMB))
    before = sorted(os.listdir(tmp_path))
    for words in (("check", str(path), "--rules", "slow-shuffle"), ("render", str(path))):
        result = CliRunner().invoke(main, list(words))
        assert result.exit_code == 2
        assert result.output.count("\n") == 1
        assert "bomb.musicxml: not read: it declares entities" in result.output
    assert sorted(os.listdir(tmp_path)) == before
