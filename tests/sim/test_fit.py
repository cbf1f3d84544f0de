"""Holes as one pattern: least squares by scipy as a second way, whole jobs by hand."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.finding import Severity
from proveout.sim.fit import alike, fitted
from scipy.optimize import least_squares, minimize

GRID = [(x, y) for y in (0, 50, 100) for x in (0, 40, 80, 120)]
few = st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=3, max_size=12, unique=True)


def moved(places, angle=0.0, scale=1.0, shift=(0.0, 0.0)):
    c, s = cos(radians(angle)) * scale, sin(radians(angle)) * scale
    return [(c * x - s * y + shift[0], s * x + c * y + shift[1]) for x, y in places]


@settings(max_examples=40, deadline=None)
@given(few, st.floats(-5, 5), st.floats(0.95, 1.05), st.integers(0, 2**31))
def test_the_fit_is_scipys(places, angle, scale, seed):
    noise = np.random.default_rng(seed).normal(0, 0.1, (len(places), 2))
    wanted, drilled = np.array(places), np.array(moved(places, angle, scale, (3, -2))) + noise
    got = fitted(places, [tuple(each) for each in drilled.tolist()])
    if got is None or np.ptp(wanted, axis=0).max() < 1:
        return

    def errors(p):
        a, b, x, y = p
        return (np.column_stack((a * wanted[:, 0] - b * wanted[:, 1] + x,
                                 b * wanted[:, 0] + a * wanted[:, 1] + y)) - drilled).ravel()

    best = least_squares(errors, (1.0, 0.0, 0.0, 0.0)).x
    assert got.scale == pytest.approx(np.hypot(best[0], best[1]), abs=1e-6)
    assert got.angle == pytest.approx(np.degrees(np.arctan2(best[1], best[0])), abs=1e-4)
    away = np.hypot(*errors(best).reshape(-1, 2).T)
    assert got.rest == pytest.approx(away.max(), abs=1e-5)


def test_the_best_shift_has_the_least_worst_error():
    drilled = [(x + (0.3 if x else 0.0), y) for x, y in GRID]
    got = fitted(GRID, drilled)
    off = np.array(drilled) - np.array(GRID)
    found = minimize(lambda t: np.hypot(*(off + t).T).max(), (0.0, 0.0), method="Nelder-Mead",
                     options={"xatol": 1e-9, "fatol": 1e-9})
    assert got.left == pytest.approx(found.fun, abs=1e-6)
    assert got.back == pytest.approx((-0.15, 0.0), abs=1e-9)


@pytest.mark.parametrize(("scale", "mixed"), [
    (25.4 / 25, True), (25 / 25.4, True), (1.01, False), (1.0, False)])
def test_an_inch_pitch_for_a_metric_one_is_named(scale, mixed):
    assert fitted(GRID, moved(GRID, scale=scale)).mixed is mixed


def test_a_pattern_is_known_again_however_far_it_lies():
    far = moved(GRID, 0.2, 25.4 / 25, (70, -20))
    order = np.random.default_rng(7).permutation(len(far))
    got = alike(GRID, [far[k] for k in order], 0.2)
    assert got.scale == pytest.approx(25.4 / 25)
    assert got.angle == pytest.approx(0.2)
    assert alike(GRID, [*far[:-1], (500.0, 0.0)], 0.2) is None
    assert alike(GRID, far[:-1], 0.2) is None


@pytest.mark.parametrize("places", [[(0, 0), (1, 1)], [(5, 5)] * 4, []])
def test_two_holes_or_one_place_are_no_pattern(places):
    assert fitted(places, places) is None


# --- whole jobs ---------------------------------------------------------------------------------------

PLACES = [(x, y) for y in (20, 70) for x in (30, 80, 130)]


def drilled(places, z: float = -8) -> str:
    lines = "".join(f"G98 G83 X{x:.4f} Y{y:.4f} Z{z} R2 Q3 F300\n" for x, y in places)
    return f"T2 M6\nS6000 M3\nG0 Z20\n{lines}G80\n"


def wants(places=PLACES, more: str = "depth = 6") -> str:
    at = ", ".join(f"[{x}, {y}]" for x, y in places)
    return f"holes = {{ at = [{at}], diameter = 6.6, {more} }}"


def test_a_zero_that_is_off_is_one_number(found):
    (said,) = found("hole-off", drilled(moved(PLACES, shift=(0.5, -0.3))), stage=wants())
    assert said.count == len(PLACES)
    assert said.message().startswith("Each of 6 holes (1 to 6) is drilled 0.583 mm from where it is wanted")
    assert said.advice() == "Move the zero by X-0.5 Y0.3: then the worst of all 6 holes is 0 mm off."


def test_one_hole_that_is_off_is_no_pattern(found):
    (said,) = found("hole-off", drilled([*PLACES[:-1], (130.5, 70)]), stage=wants())
    assert said.advice() == "Drill it at X130 Y70: move it by X-0.5 Y0."


def test_a_turn_is_told_with_its_angle(found):
    """0.4 degrees about (80, 45): the corners are 0.39 off, the middle ones 0.17; square it and all fit."""
    turned = [(80 + x, 45 + y) for x, y in moved([(x - 80, y - 45) for x, y in PLACES], 0.4)]
    (said,) = found("hole-off", drilled(turned), stage=wants())
    assert said.count == 4
    assert "turned by -0.4°" in said.advice()


def test_a_wrong_pitch_is_named(judged):
    """Seven holes 25 apart drilled 25.4 apart: the last is 2.4 off, and each next to its wanted place."""
    row = [(20 + 25 * k, 50) for k in range(7)]
    result = judged(drilled([(20 + 25.4 * k, 50) for k in range(7)]), stage=wants(row))
    (off,) = (f for f in result.findings if f.kind == "hole-off")
    assert (off.about, off.count, off.value) == ("2 to 7", 6, pytest.approx(2.4))
    assert off.message().startswith("The worst of 6 holes (2 to 7) is drilled 2.4 mm from")
    assert "off as 25.4 is to 25" in off.advice()
    (fit,) = result.stages[0].fits
    assert (fit.against, fit.count, fit.error) == ("wanted", 7, pytest.approx(2.4))
    assert fit.scale == pytest.approx(25.4 / 25)


def test_a_zero_far_off_is_named_too(judged):
    """20 to the left: every hole is missing, every one extra."""
    result = judged(drilled(moved(PLACES, shift=(-20, 0))), stage=wants())
    kinds = [f for f in result.findings if f.kind in ("hole-missing", "hole-extra")]
    assert len(kinds) == 2 * len(PLACES)
    assert all(f.advice().startswith("Move the zero by X20 Y0") for f in kinds)


def test_a_hole_that_is_drilled_twice(found):
    again = [*PLACES[:3], PLACES[0], *PLACES[3:]]
    (said,) = found("hole-extra", drilled(again), stage=wants())
    assert (said.severity, said.line) == (Severity.NOTE, 10)
    assert "a second time (hole 1, line 7)" in said.message()
    assert found("hole-extra", drilled(PLACES), stage=wants()) == []


def test_a_hole_that_is_drilled_deeper_in_a_second_round_is_no_double(found):
    lines = drilled(PLACES, -4) + drilled(PLACES, -8).split("G0 Z20\n", 1)[1]
    assert found("hole-extra", lines, stage=wants()) == []


def test_a_hole_into_another_is_drilled_twice(found):
    (said,) = found("hole-extra", drilled([*PLACES, (31, 20)]), stage=wants())
    assert "into hole 1: it is drilled twice" in said.message()


# --- over the bed -------------------------------------------------------------------------------------

SCREWS = ('[[fasteners]]\nname = "s"\nscrew = "ISO 7380-1 M6"\nseat = -6\n'
          f"at = [{', '.join(f'[{x}, {y}]' for x, y in PLACES)}]\n")


def bed(places) -> str:
    at = ", ".join(f"[{x}, {y}]" for x, y in places)
    return f"openings = [ {{ diameter = 5, mouth = 10, at = [{at}] }} ]"


@pytest.mark.parametrize(("off", "count"), [(0.3, 0), (0.31, 6)])
def test_screws_find_their_thread_within_their_play(found, off, count):
    """A hole of 6.6 gives M6 0.30 of play [formulas 10]; moving the zero by what it is off mends all."""
    there = bed(moved(PLACES, shift=(off, 0)))
    said = found("hole-off", drilled(PLACES), stage=wants(), bed=there, more=SCREWS)
    assert [(f.severity, f.count) for f in said] == [(Severity.CAUTION, count)] * bool(count)
    assert all("from the bed's hole under it; 0.3 mm is the play" in f.message() for f in said)
    assert all(f"Move the zero by X{off} Y0" in f.advice() for f in said)


def test_the_beds_own_error_is_fitted(judged):
    result = judged(drilled(PLACES), stage=wants(), bed=bed(moved(PLACES, 0.1)), more=SCREWS)
    fit = next(f for f in result.stages[0].fits if f.against == "bed")
    assert fit.angle == pytest.approx(-0.1, abs=1e-6)
    assert fit.rest == pytest.approx(0, abs=1e-4)
