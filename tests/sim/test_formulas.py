"""Worked figures of the trade's formulas, each through the room of the house that uses it.

Sources: textbook geometry and kinematics, machining handbook formulas; the worked numbers are the
project's reference figures, computed independently of this code.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.job import Corner, Cutter
from proveout.sim.clock import ramped
from proveout.sim.cutters import profile_of
from proveout.sim.plan import SAGITTA, circle_steps, disc
from proveout.sim.stepover import flat_width


def below(rho: float, **cutter) -> float:
    return float(profile_of(Cutter(number=1, **cutter)).below(rho))


@pytest.mark.parametrize(("diameter", "angle", "length"), [
    (1.0, 90, 0.5), (1.0, 118, 0.3004), (1.0, 135, 0.2071), (1.0, 140, 0.1820), (6.6, 118, 1.983),
    (5.5, 118, 1.652), (9.0, 118, 2.704), (9.0, None, 2.704)])
def test_drill_tip_length(diameter, angle, length):
    """Textbook geometry: Lt = (d/2)/tan(P/2); 118 degrees when left out."""
    tip = below(diameter / 2, shape="drill", diameter=diameter, angle=angle)
    assert tip == pytest.approx(length, abs=5e-4)


@pytest.mark.parametrize(("radius", "step", "ridge"), [
    (3.0, 0.5, 0.010435), (3.175, 1.0, 0.039617), (6.0, 6.0, 0.8038)])
def test_ridge_between_passes_of_a_ball(radius, step, ridge):
    """Textbook geometry: R - sqrt(R² - (s/2)²)."""
    assert below(step / 2, shape="ball", diameter=2 * radius) == pytest.approx(ridge, rel=1e-4)


@pytest.mark.parametrize(("corner", "step", "ridge"), [(1.0, 20, 0.0), (1.0, 24, 0.1340), (3.0, 22, 0.4019)])
def test_ridge_between_passes_of_a_rounded_flat_cutter(corner, step, ridge):
    """Textbook geometry: none up to the flat width D - 2r = 25 - 2r, then a circle's rise."""
    rounded = {"shape": "facing", "diameter": 25.0, "corner": Corner(radius=corner)}
    assert below(step / 2, **rounded) == pytest.approx(ridge, abs=5e-5)
    assert flat_width(Cutter(number=1, **rounded)) == 25 - 2 * corner


@pytest.mark.parametrize(("shape", "corner", "width"), [
    ("flat", None, 6.0), ("flat", Corner(chamfer=0.5), 5.0), ("bull", Corner(radius=1.0), 4.0),
    ("ball", None, None), ("drill", None, None)])
def test_flat_width(shape, corner, width):
    """Textbook geometry: D - 2r; common practice, no published source for chamfers."""
    assert flat_width(Cutter(number=1, shape=shape, diameter=6.0, corner=corner)) == width


@given(st.floats(0.1, 300), st.floats(0.1, 2 * math.pi))
def test_chords_keep_within_the_sagitta(radius, span):
    """Textbook geometry: h = R(1 - cos(half a step)) a chord; one chord less would be too few."""
    steps = circle_steps(radius, span)
    assert radius * (1 - math.cos(span / steps / 2)) <= SAGITTA * (1 + 1e-6)
    assert steps == 1 or radius * (1 - math.cos(span / (steps - 1) / 2)) >= SAGITTA * (1 - 1e-6)


@given(st.floats(0.1, 300))
def test_a_disc_in_plan_holds_the_true_disc(radius):
    """Closed form: area between pi·R² and pi·(R + sagitta)²."""
    area = disc((3.0, 4.0), radius).area
    assert math.pi * radius**2 <= area <= math.pi * (radius + SAGITTA) ** 2 + 1e-6


@given(st.floats(0.1, 2000), st.floats(1, 200), st.floats(10, 3000))
def test_rest_to_rest_closed_forms(length, speed, push):
    """Textbook kinematics: d/v + v/a, or 2·sqrt(d/a) where the speed is never reached."""
    expected = length / speed + speed / push if length >= speed**2 / push else 2 * math.sqrt(length / push)
    one = np.ones(1)
    assert ramped(length * one, speed * one, push * one, 0 * one, 0 * one)[0] == pytest.approx(expected)
