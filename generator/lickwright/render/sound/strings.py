"""The string: a sum of damped partials whose common phase is the exact integral of the pitch.

A voice has one phase ``z = exp(i phi)``; its partials are powers of z, so a bend, a slide or a vibrato
moves all of them together and exactly. Complex envelopes on blocks of 64 samples carry what is slow: the
decay, the string's stiffness (partials a little sharp) and its two planes of swinging, one of which
decays slower. A strike in the middle of a voice changes the partials' strengths while the phase runs on,
so a hammer-on or pull-off has no pick in it. It knows nothing of a study, an amplifier or other strings.

References: stiffness, H. Fletcher, "Normal vibration frequencies of a stiff piano string", J. Acoust. Soc.
Am. 36 (1964), from memory: f_k = k f sqrt(1 + B k^2), B = pi^3 E d^4 / (64 T l^2).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from lickwright.render.sound.products import product
from lickwright.render.sound.voice import Floats, Samples, Strike, StrikeKind, Touch, Voice

Complexes = npt.NDArray[np.complex64]

SAMPLE_RATE = 44_100
BLOCK = 64
#: The highest partial, in Hz, and how many there are at most: above, a guitar loudspeaker gives nothing.
HIGHEST_PARTIAL_HZ = 8_000.0
MOST_PARTIALS = 64
#: A stopped string is followed until it is 60 dB down.
TAIL_S = 0.12

#: Seconds until the lowest partial is 60 dB down, by MIDI pitch. Orders of magnitude from memory: a solid
#: electric guitar's low strings ring about ten seconds, its highest fretted notes two or three.
_RING_PITCH = (28.0, 40.0, 52.0, 64.0, 76.0, 88.0)
_RING_T60_S = (12.0, 10.5, 8.5, 6.8, 4.8, 3.2)
#: What the higher partials lose in addition: inner friction grows with the frequency, the air's with its
#: square.
_FRICTION = 1.1e-3
_AIR = 3.5e-7
#: The plane parallel to the body holds this part of the swing, decays slower and sounds a third of a cent
#: sharp.
_QUIET_PLANE = 0.22
_QUIET_DECAY = 0.55
_QUIET_SHARP_CENTS = 0.35

#: A player tunes the whole sound, not its lowest partial: the partials about here are in tune, those below a
#: cent or two flat.
TUNED_BY_HZ = 500.0

SCALE_MM = 648.0
PICKUP_MM = 150.0
#: Stiffness B of the open strings of a .010 set (plain .010 .013 .017, wound cores .0135 .015 .016 in),
#: from Fletcher's formula with E = 200 GPa and the tensions of such a set, rounded.
_STIFFNESS = (1.4e-5, 4.4e-5, 1.1e-4, 3.9e-5, 5.6e-5, 8.2e-5)


def hertz(pitch: Floats | float) -> Floats:
    """The frequency of a MIDI pitch in equal temperament, A4 = 440 Hz (ISO 16)."""
    return np.asarray(440.0 * 2.0 ** ((np.asarray(pitch, dtype=np.float64) - 69.0) / 12.0))


def stiffness(string: int, fret: int) -> float:
    """Fletcher's B of a string stopped at a fret: it grows with the square of the shortening."""
    return _STIFFNESS[min(string, len(_STIFFNESS)) - 1] * float(2.0 ** (fret / 6.0))


def ring_s(pitch: float) -> float:
    """T60 of the lowest partial in the plane of the pick, seconds."""
    return float(np.interp(pitch, _RING_PITCH, _RING_T60_S))


def render_voice(voice: Voice) -> Samples:
    """The string's sound from its start until it is silent, float32, one channel; sample 0 is the strike."""
    length = math.ceil((voice.end_s - voice.start_s + TAIL_S) * SAMPLE_RATE)
    blocks = -(-length // BLOCK)
    times = voice.start_s + np.arange(blocks + 1, dtype=np.float64) * (BLOCK / SAMPLE_RATE)
    frequency = hertz(voice.pitch_at(times))
    cycles = np.zeros(blocks + 1)
    np.cumsum((frequency[:-1] + frequency[1:]) * (BLOCK / SAMPLE_RATE / 2.0), out=cycles[1:])
    envelopes = _envelopes(voice, times, frequency, cycles)
    sound = np.empty((blocks, BLOCK), np.float32)
    still = frequency[:-1] == frequency[1:]
    for one in np.unique(frequency[:-1][still]):
        here = np.flatnonzero(still & (frequency[:-1] == one))
        sound[here] = _still_sum(float(one), cycles[here], envelopes[:, here], envelopes[:, here + 1])
    here = np.flatnonzero(~still)
    if len(here):
        rotor = _rotor(frequency[here], frequency[here + 1], cycles[here])
        sound[here] = _moving_sum(rotor, envelopes[:, here], envelopes[:, here + 1])
    sound = sound.reshape(-1)[:length]
    for strike in voice.strikes:
        _add_pick_noise(sound, voice, strike)
    return sound


def _still_sum(frequency: float, cycles: Floats, first: Complexes, last: Complexes) -> Samples:
    """Blocks in which the pitch stands still, as one matrix product over the partials, (blocks, BLOCK).

    ``cycles`` is the phase at each block's start, ``first`` and ``last`` the envelopes at its edges; between
    them they go straight.
    """
    k = np.arange(1, len(first) + 1)[:, None]
    start = _turn(k * cycles)
    at, change = first * start, (last - first) * start
    wave = _turn(k * (frequency / SAMPLE_RATE * np.arange(BLOCK)))
    ramp = np.arange(BLOCK, dtype=np.float32) / BLOCK
    left = np.concatenate((at.real, at.imag, change.real, change.imag))
    right = np.concatenate((wave.imag, wave.real, wave.imag * ramp, wave.real * ramp))
    return product(np.asarray(left.T, np.float32), np.asarray(right, np.float32))


def _rotor(first_hz: Floats, last_hz: Floats, cycles: Floats) -> Complexes:
    """exp(2 pi i phase) for every sample, (blocks, BLOCK): exact for a frequency that goes straight
    within a block.
    """
    within = np.arange(BLOCK) / SAMPLE_RATE
    slope = (last_hz - first_hz)[:, None] * (SAMPLE_RATE / BLOCK / 2.0)
    return _turn((cycles[:, None] % 1.0) + within * (first_hz[:, None] + slope * within))


def _envelopes(voice: Voice, times: Floats, frequency: Floats, cycles: Floats) -> Complexes:
    """Strength and slow turning of each partial at the block edges, (partials, blocks + 1)."""
    count = int(np.clip(HIGHEST_PARTIAL_HZ // frequency.min(), 1, MOST_PARTIALS))
    k = np.arange(1, count + 1)[:, None]
    in_tune = max(1.0, TUNED_BY_HZ / float(frequency[0]))
    stiff = stiffness(voice.string, voice.fret)
    sharp = np.sqrt((1.0 + stiff * k * k) / (1.0 + stiff * in_tune * in_tune)) - 1.0
    quick, slow, strength = _decays(voice, times, frequency, k)
    quiet_turn = k * (2.0 ** (_QUIET_SHARP_CENTS / 1200.0) - 1.0)
    planes = (1.0 - _QUIET_PLANE) * np.exp(-quick) + _QUIET_PLANE * np.exp(-slow) * _turn(quiet_turn * cycles)
    return np.asarray(strength * planes * _turn(k * sharp * cycles), dtype=np.complex64)


def _turn(cycles: Floats) -> Complexes:
    """exp(2 pi i cycles)."""
    angle = (2.0 * np.pi * (cycles - np.rint(cycles))).astype(np.float32)
    turned = np.empty(angle.shape, np.complex64)
    np.cos(angle, out=turned.real)
    np.sin(angle, out=turned.imag)
    return turned


def _decays(
    voice: Voice, times: Floats, frequency: Floats, k: npt.NDArray[np.int_]
) -> tuple[Samples, Samples, Samples]:
    """Log losses in the two planes since the last strike, and the strengths it left, each (partials,
    blocks + 1).
    """
    edges = [int(np.searchsorted(times, s.at_s - BLOCK / SAMPLE_RATE / 2.0)) for s in voice.strikes]
    edges[0] = 0
    quick, slow, strength = (np.zeros((len(k), len(times)), np.float32) for _ in range(3))
    extra = _damping_rate(voice, times)
    left = np.zeros(len(k))
    for strike, first, last in zip(voice.strikes, edges, [*edges[1:], len(times)], strict=True):
        if first >= last:
            continue
        here = min(first + 3, len(times) - 1)
        f = k[:, 0] * frequency[here]
        rate = 6.91 / ring_s(float(voice.pitch_at(times[here : here + 1])[0])) + (f - frequency[here]) * (
            _FRICTION + _AIR * (f + frequency[here])
        )
        damped = np.cumsum(extra[first:last])[None, :] * (BLOCK / SAMPLE_RATE) * (0.7 + 3e-4 * f[:, None])
        since = np.arange(last - first)[None, :] * (BLOCK / SAMPLE_RATE)
        quick[:, first:last] = rate[:, None] * since + damped
        slow[:, first:last] = _QUIET_DECAY * rate[:, None] * since + damped
        left = _struck(left, _spectrum(voice, strike, frequency[here], k[:, 0]), strike.kind)
        strength[:, first:last] = left[:, None]
        left = left * np.exp(-quick[:, last - 1])
    return quick, slow, strength


def _damping_rate(voice: Voice, times: Floats) -> Floats:
    """Loss per second that fingers and palm add, at each block edge."""
    rate = np.zeros_like(times)
    for damping in voice.dampings:
        rate[times >= damping.at_s] = 6.91 / damping.t60_s
    return rate


def _struck(left: Floats, given: Floats, kind: StrikeKind) -> Floats:
    """The strengths after a strike: a pick replaces what sounded, a fretting finger adds to most of it."""
    if kind in (StrikeKind.PICK, StrikeKind.DEAD):
        return given
    kept = 0.85 * left
    sign = np.where(left < 0.0, -1.0, np.where(left > 0.0, 1.0, np.sign(given)))
    return np.asarray(sign * np.maximum(np.abs(kept), np.abs(given)))


def _spectrum(voice: Voice, strike: Strike, frequency: float, k: npt.NDArray[np.int_]) -> Floats:
    """The strengths that a strike gives: where it meets the string, where the pickup listens, how sharp
    it is.
    """
    length_mm = SCALE_MM * float(hertz(voice.pitch - voice.fret) / frequency)
    place_mm, bright_hz, fall = _meeting(voice.touch, strike)
    struck = np.sin(np.pi * k * min(0.5, place_mm / length_mm)) / k**fall
    heard = np.sin(np.pi * k * min(0.5, PICKUP_MM / length_mm))
    sharp = np.exp(-k * frequency / (bright_hz * (0.45 + 0.75 * strike.velocity)))
    even = 1.0 / (np.pi * min(0.5, place_mm / length_mm))
    return np.asarray(
        0.5 * strike.velocity * even**0.5 * struck * (0.25 + 0.75 * np.abs(heard)) * np.sign(heard) * sharp
    )


def _meeting(touch: Touch, strike: Strike) -> tuple[float, float, float]:
    """Distance from the bridge in mm, brightness in Hz, and how fast the partials fall, for each way to
    strike.
    """
    if strike.kind is StrikeKind.HAMMER:
        return 190.0, 1500.0, 1.4
    if strike.kind is StrikeKind.PULL:
        return 150.0, 2200.0, 1.2
    return touch.pick_mm, touch.bright_hz, 1.0


def _moving_sum(rotor: Complexes, first: Complexes, last: Complexes) -> Samples:
    """Blocks in which the pitch moves: the imaginary part of sum E_k z^k by Horner's rule, (blocks,
    BLOCK).
    """
    value, change = np.zeros_like(rotor), np.zeros_like(rotor)
    for at, difference in zip(first[::-1], (last - first)[::-1], strict=True):
        value *= rotor
        value += at[:, None]
        change *= rotor
        change += difference[:, None]
    value += change * (np.arange(BLOCK, dtype=np.float32) / BLOCK)
    return np.asarray(value.real * rotor.imag + value.imag * rotor.real)


def _add_pick_noise(sound: Samples, voice: Voice, strike: Strike) -> None:
    """The scrape of the pick on the string, or the thud of one that a finger deadens, added in place."""
    if strike.kind not in (StrikeKind.PICK, StrikeKind.DEAD):
        return
    dead = strike.kind is StrikeKind.DEAD
    at = round((strike.at_s - voice.start_s) * SAMPLE_RATE)
    count = min(len(sound) - at, round(0.03 * SAMPLE_RATE))
    time = np.arange(count) / SAMPLE_RATE
    noise = np.random.default_rng(voice.seed).standard_normal(count + 4)
    scrape = np.convolve(np.diff(noise), (0.25, 0.5, 0.25), "valid")[:count] * np.exp(-time / 0.0022)
    thud = np.sin(2.0 * np.pi * 180.0 * time) * np.exp(-time / 0.007)
    level = voice.touch.noise * strike.velocity
    sound[at : at + count] += (
        level * ((0.09 if dead else 0.02) * scrape + (0.12 if dead else 0.02) * thud)
    ).astype(np.float32)
