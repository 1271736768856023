"""The MIDI file against MIDI 1.0 Detailed Specification 4.2 and Standard MIDI Files 1.0 (MIDI Association).

The bytes are checked as such, without a library; tables and byte values from memory unless said otherwise.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from lickwright.render.midi.write import BEND_RANGE, channel_of, midi, wheel_value

from tests.studies import tour


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Every chunk as (type, body): four letters, a length of four bytes, so many bytes."""
    found, at = [], 0
    while at < len(data):
        length = int.from_bytes(data[at + 4 : at + 8], "big")
        found.append((data[at : at + 4], data[at + 8 : at + 8 + length]))
        at += 8 + length
    assert at == len(data)
    return found


def messages(body: bytes) -> list[tuple[int, bytes]]:
    """(delta, message) of a track, each with its status byte: one that has none has that of the message before."""
    found, at, status = [], 0, 0

    def number() -> int:
        nonlocal at
        value = 0
        while True:
            byte = body[at]
            at += 1
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                return value

    while at < len(body):
        delta = number()
        if body[at] & 0x80:
            status, at = body[at], at + 1
        start = at
        if status == 0xFF:
            at += 1
            length = number()
            at += length
        else:
            assert status, "running status goes on from a channel message, not from a meta event"
            at += 1 if status & 0xF0 == 0xC0 else 2
        found.append((delta, bytes([status]) + body[start:at]))
        status = 0 if status == 0xFF else status
    return found


def tracks() -> list[list[tuple[int, bytes]]]:
    return [messages(body) for kind, body in chunks(midi(tour())) if kind == b"MTrk"]


def test_the_header_says_type_1_the_tracks_and_the_division():
    (kind, body), *rest = chunks(midi(tour()))
    assert (kind, len(body)) == (b"MThd", 6)
    assert int.from_bytes(body[:2], "big") == 1
    assert int.from_bytes(body[2:4], "big") == len(rest) == 7
    assert int.from_bytes(body[4:], "big") == 480
    assert {kind for kind, _ in rest} == {b"MTrk"}


def test_every_track_ends_with_end_of_track_and_nowhere_else():
    for track in tracks():
        ends = [i for i, (_, m) in enumerate(track) if m[:2] == b"\xff\x2f"]
        assert ends == [len(track) - 1]
        assert track[-1][1] == b"\xff\x2f\x00"


def test_data_bytes_have_their_high_bit_clear():
    for track in tracks():
        for _, message in track:
            if message[0] != 0xFF:
                assert 0x80 <= message[0] <= 0xEF
                assert all(byte < 0x80 for byte in message[1:])


def test_the_bend_range_is_set_by_registered_parameter_0_before_the_first_note():
    """B0 65 00, B0 64 00 select RPN 0,0; B0 06 gives semitones, B0 26 cents; 65 7F, 64 7F select none."""
    for string, track in enumerate(tracks()[1:], start=1):
        status = 0xB0 | channel_of(string)
        controls = [m[1:] for delta, m in track if m[0] == status and delta == 0][:6]
        wanted = [(0x65, 0), (0x64, 0), (0x06, BEND_RANGE), (0x26, 0), (0x65, 0x7F), (0x64, 0x7F)]
        assert controls == [bytes(pair) for pair in wanted]
        first_note = next((i for i, (_, m) in enumerate(track) if m[0] & 0xF0 == 0x90), len(track))
        assert max(i for i, (_, m) in enumerate(track) if m[:2] == bytes([status, 0x06])) < first_note


def test_no_bend_of_the_study_runs_out_of_the_range():
    assert 2 < BEND_RANGE <= 24, "2 is the default, a whole step up is its very end"
    assert -8192 <= wheel_value(-99) < wheel_value(99) <= 8191


@pytest.mark.parametrize(
    ("wheel_bytes", "semitones"), [((0x00, 0x40), 0), ((0x00, 0x00), -BEND_RANGE), ((0x7F, 0x7F), BEND_RANGE)]
)
def test_the_wheel_is_fourteen_bits_low_byte_first_centred_on_2000_hex(wheel_bytes, semitones):
    low, high = wheel_bytes
    assert wheel_value(semitones) + 8192 == low | high << 7


def test_the_program_is_the_clean_guitar_of_general_midi():
    """General MIDI level 1: program 28 counted from 1, so C0 1B on the wire."""
    for string, track in enumerate(tracks()[1:], start=1):
        programs = [m for _, m in track if m[0] & 0xF0 == 0xC0]
        assert programs == [bytes([0xC0 | channel_of(string), 0x1B])]


def test_no_string_plays_on_the_channel_of_the_drums():
    """General MIDI keeps channel 10, counted from 1, for percussion."""
    assert 9 not in {channel_of(string) for string in range(1, 16)}
    assert len({channel_of(string) for string in range(1, 16)}) == 15


@pytest.mark.parametrize(
    ("number", "written"),
    [
        (0x00, "00"), (0x40, "40"), (0x7F, "7F"), (0x80, "81 00"), (0x2000, "C0 00"), (0x3FFF, "FF 7F"),
        (0x4000, "81 80 00"), (0x100000, "C0 80 00"), (0x1FFFFF, "FF FF 7F"), (0x200000, "81 80 80 00"),
        (0x8000000, "C0 80 80 00"), (0xFFFFFFF, "FF FF FF 7F"),
    ],
)  # fmt: skip
def test_variable_length_numbers_are_those_of_the_specification_s_table(number, written):
    """Standard MIDI Files 1.0, the table of examples under "Variable Length Quantities" (from memory)."""
    from mido.midifiles.meta import encode_variable_int

    assert bytes(encode_variable_int(number)) == bytes.fromhex(written)


def test_tempo_is_in_microseconds_per_quarter_and_the_meter_in_powers_of_two():
    """FF 51 03 tttttt and FF 58 04 nn dd cc bb: 12/8 at 60 dotted quarters is 90 quarters a minute."""
    conductor = {m[1]: m for _, m in tracks()[0]}
    assert int.from_bytes(conductor[0x51][3:], "big") == 666_667
    assert conductor[0x58] == bytes([0xFF, 0x58, 4, 12, 3, 36, 8])
    assert conductor[0x59] == bytes([0xFF, 0x59, 2, 3, 0])


def test_a_tempo_that_is_slower_than_three_bytes_can_say_is_the_slowest_there_is():
    conductor = messages(chunks(midi(replace(tour(), tempo_bpm=1)))[1][1])
    assert {m[1]: m for _, m in conductor}[0x51] == b"\xff\x51\x03\xff\xff\xff"
