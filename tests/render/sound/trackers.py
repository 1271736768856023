"""Measuring instruments of the sound tests: pitch by phase, vibrato, onsets, decay. None uses the code
under test.

Conventions: samples (n,) at 44.1 kHz, times in seconds, deviations in cents.
"""

from __future__ import annotations

import numpy as np

RATE = 44_100


def hertz(pitch: float) -> float:
    """Equal temperament, A4 = 440 Hz (ISO 16:1975)."""
    return float(440.0 * 2.0 ** ((pitch - 69.0) / 12.0))


def cents(measured_hz: float, pitch: float) -> float:
    return float(1200.0 * np.log2(measured_hz / hertz(pitch)))


def frequency_near(samples: np.ndarray, at_s: float, expected_hz: float, window_s: float = 0.16) -> float:
    """The frequency of the partial near ``expected_hz``, from how far its phase turns between two windows.

    The windows are long enough to keep the next partial out (four periods at least).
    """
    window = int(max(window_s, 5.0 / expected_hz) * RATE)
    hop = int(min(0.02, 0.4 / (expected_hz * 0.06)) * RATE)
    first = int((at_s - (window + hop) / RATE / 2.0) * RATE)
    shape = np.hanning(window) * np.exp(-2j * np.pi * expected_hz * np.arange(window) / RATE)
    a = np.dot(samples[first : first + window], shape)
    b = np.dot(samples[first + hop : first + hop + window], shape)
    expected_turn = 2.0 * np.pi * expected_hz * hop / RATE
    turn = np.angle(b * np.conj(a) * np.exp(-1j * expected_turn))
    return float((expected_turn + turn) * RATE / (2.0 * np.pi * hop))


def period_pitch(samples: np.ndarray, at_s: float, expected_hz: float, window_s: float = 0.12) -> float:
    """The frequency from where the sound repeats best: the peak of the normalised autocorrelation, many
    periods on.
    """
    count = int(window_s * RATE)
    first = int(at_s * RATE) - count // 2
    x = samples[first : first + count].astype(float)
    best = RATE / expected_hz
    for periods in (1, max(1, int(0.4 * window_s * expected_hz))):
        centre = best * periods
        lags = (
            np.arange(int(centre * 0.96), int(centre * 1.04) + 2)
            if periods == 1
            else np.arange(int(centre - 0.3 * best), int(centre + 0.3 * best) + 2)
        )
        likeness = np.array(
            [np.dot(x[:-g], x[g:]) / np.sqrt(np.dot(x[:-g], x[:-g]) * np.dot(x[g:], x[g:])) for g in lags]
        )
        i = int(np.clip(np.argmax(likeness), 1, len(lags) - 2))
        left, middle, right = likeness[i - 1 : i + 2]
        best = (lags[i] + 0.5 * (left - right) / (left - 2 * middle + right)) / periods
    return float(RATE / best)


def pitch_curve(samples: np.ndarray, pitch: float, window_s: float = 0.02) -> np.ndarray:
    """Cents above ``pitch`` of the partial near it, sample by sample (valid where the note sounds)."""
    carrier = np.exp(-2j * np.pi * hertz(pitch) * np.arange(len(samples)) / RATE)
    window = np.hanning(int(window_s * RATE) | 1)
    smooth = np.convolve(samples * carrier, window / window.sum(), "same")
    turn = np.angle(smooth[1:] * np.conj(smooth[:-1])) * RATE / (2.0 * np.pi)
    return np.asarray(1200.0 * np.log2(np.maximum(1.0 + turn / hertz(pitch), 1e-3)))


def vibrato_of(curve: np.ndarray, start_s: float, end_s: float) -> tuple[float, float, float]:
    """Rate in Hz, depth from trough to crest in cents, and middle in cents: the best sine through the
    curve.
    """
    y = curve[int(start_s * RATE) : int(end_s * RATE) : 50]
    t = np.arange(len(y)) * 50 / RATE
    best = (np.inf, 0.0, 0.0, 0.0)
    for rate in np.arange(3.0, 9.0, 0.01):
        basis = np.stack(
            (np.ones_like(t), np.cos(2 * np.pi * rate * t), np.sin(2 * np.pi * rate * t)), axis=1
        )
        found, _, _, _ = np.linalg.lstsq(basis, y, rcond=None)
        error = float(np.sum((basis @ found - y) ** 2))
        if error < best[0]:
            best = (error, float(rate), 2.0 * float(np.hypot(found[1], found[2])), float(found[0]))
    return best[1:]


def onset_s(samples: np.ndarray, near_s: float, within_s: float = 0.03) -> float:
    """When the sound rises near a time: where its fourth difference first stands out from what sounded
    before.

    Differences favour the attack, which is bright, over a note that rings on. The place is that of the
    first sample above a third of the way from the loudest one 5 to 30 ms before to the peak of the
    attack; nan without an attack.
    """
    first = max(0, int((near_s - within_s) * RATE))
    piece = np.abs(np.diff(samples[first : int((near_s + within_s) * RATE)].astype(float), 4))
    before = piece[: max(0, int((near_s - 0.005) * RATE) - first)].max(initial=0.0)
    threshold = before + (piece.max() - before) / 3.0
    return (first + int(np.argmax(piece > threshold))) / RATE if piece.max() > 1.2 * before else float("nan")


def t60_s(samples: np.ndarray) -> float:
    """Seconds to lose 60 dB, from the slope of the backward integral between -5 and -25 dB (Schroeder
    1965; T20).
    """
    energy = np.cumsum(samples[::-1].astype(float) ** 2)[::-1]
    level = 10.0 * np.log10(energy / energy[0])
    first, last = int(np.argmax(level < -5.0)), int(np.argmax(level < -25.0))
    return 3.0 * (last - first) / RATE


def band_level(samples: np.ndarray, low_hz: float, high_hz: float) -> float:
    """The level between two frequencies in dB, arbitrary zero."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)))) ** 2
    f = np.fft.rfftfreq(len(samples), 1.0 / RATE)
    return float(10.0 * np.log10(spectrum[(f >= low_hz) & (f < high_hz)].sum() + 1e-20))
