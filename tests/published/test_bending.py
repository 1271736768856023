"""Bends and tensions against published formulas and figures."""

import numpy as np
import pytest
from lickwright.guitar.neck import Neck
from lickwright.guitar.strings import (
    STRING_SETS,
    StringGauge,
    StringSet,
    bend_distance_mm,
    bend_force_n,
    bend_size,
    bend_tables,
    tensions_n,
)

NECK = Neck(frets=22, scale_mm=648.0)


def plain(thousandths: int) -> StringSet:
    return StringSet("plain", (StringGauge(thousandths / 1000),) * 6)


# Plain steel of 7850 kg/m3 and 200 GPa, 648 mm, no friction, held at nut and bridge. Derived once by hand
# for this table: string, gauge, tension, fret, then mm and N of a half step and of a whole step.
TABLE = [
    (1, 9, 58.8, 5, (11.7, 6.3), (17.1, 10.3)),
    (1, 9, 58.8, 12, (13.6, 5.5), (19.8, 9.1)),
    (1, 10, 72.6, 12, (13.6, 6.8), (19.8, 11.2)),
    (2, 11, 49.3, 8, (9.8, 3.6), (14.3, 5.9)),
    (3, 16, 65.7, 7, (7.6, 3.9), (11.1, 6.4)),
]


@pytest.mark.parametrize(("string", "gauge", "tension", "fret", "half", "whole"), TABLE)
def test_distance_and_force_of_half_and_whole_steps(string, gauge, tension, fret, half, whole) -> None:
    strings = plain(gauge)
    assert tensions_n(NECK, strings)[string - 1] == pytest.approx(tension, abs=0.05)
    for size, (mm, newtons) in (2, half), (4, whole):
        assert float(bend_distance_mm(NECK, strings, string, fret, size)) == pytest.approx(mm, abs=0.05)
        assert float(bend_force_n(NECK, strings, string, fret, size)) == pytest.approx(newtons, abs=0.05)


def grimes_hz(tension: float, stiffness: float, density: float, length_m: float, theta: float) -> float:
    """A string bent at its middle: D. R. Grimes, "String Theory", PLoS ONE 9(7):e102088, 2014."""
    pull = stiffness + np.cos(theta) * (tension - stiffness)
    return float(np.sqrt(pull / density) / (2 * length_m))


@pytest.mark.parametrize("gauge", [8, 9, 10, 11, 13])
def test_the_pitch_of_a_bend_at_mid_string_agrees_with_the_published_formula(gauge: int) -> None:
    strings, size = plain(gauge), np.arange(7)
    string = strings.gauges[0]
    tension = tensions_n(NECK, strings)[0]
    still = grimes_hz(tension, string.stiffness_n, string.density_kg_m, 0.324, 0.0)
    assert still == pytest.approx(2 * 329.6276, rel=1e-6)  # theta = 0: the plain note, sqrt(T / mu) / (2 L)
    for d, quarters in zip(bend_distance_mm(NECK, strings, 1, 12, size), size, strict=True):
        theta = np.arctan2(d, 324.0)
        hz = grimes_hz(tension, string.stiffness_n, string.density_kg_m, 0.324, theta)
        assert 1200 * np.log2(hz / still) == pytest.approx(50 * quarters, abs=3)  # cents


def test_a_string_that_is_not_pushed_sounds_its_fret() -> None:
    assert bend_size(NECK, STRING_SETS["light"], [1, 3, 6], [2, 7, 12], 0.0) == pytest.approx([0, 0, 0])


# I. Malone, "Bending with Dojo 3", 2013: high E about 58 N; a whole step at mid-string takes 1.2 mm of
# stretch and 19.7 mm sideways; the sideways distance does not depend on the gauge, the force does.
def test_published_stretch_and_distance_of_a_whole_step_at_mid_string() -> None:
    assert tensions_n(NECK, plain(9))[0] == pytest.approx(58, abs=1)
    d = float(bend_distance_mm(NECK, plain(9), 1, 12, 4))
    assert d == pytest.approx(19.7, abs=0.15)
    assert 2 * (np.hypot(324.0, d) - 324.0) == pytest.approx(1.2, abs=0.05)


def test_the_gauge_changes_the_force_and_not_the_distance() -> None:
    thin, thick = bend_tables(NECK, plain(9)), bend_tables(NECK, plain(12))
    np.testing.assert_allclose(thin.distance_mm[1:, 1:], thick.distance_mm[1:, 1:], rtol=1e-9)
    ratio = thick.force_n[1:, 1:, 1:] / thin.force_n[1:, 1:, 1:]
    np.testing.assert_allclose(ratio, (12 / 9) ** 2, rtol=1e-9)


# The usual tables for a .010 set on a 25.5 inch scale, in pounds. From memory.
def test_wound_strings_are_as_tight_as_the_usual_tables_say() -> None:
    tensions = tensions_n(NECK, STRING_SETS["regular"])[:6]
    pounds = np.array(tensions) / 4.44822
    assert pounds == pytest.approx([16.2, 15.4, 16.6, 18.4, 19.5, 17.5], rel=0.02)
