"""Cutters as radial profiles: against their definitions, and the trade's worked numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.job import Corner, Cutter
from proveout.sim.cutters import CutterUnshaped, profile_of


def cutter(shape, diameter=10.0, **more):
    return Cutter(number=1, shape=shape, diameter=diameter, **more)


ALL = [cutter("flat"), cutter("facing", core=4.0), cutter("flat", corner=Corner(chamfer=0.5)),
       cutter("facing", core=4.0, corner=Corner(radius=0.4)), cutter("ball"),
       cutter("bull", corner=Corner(radius=2.0)), cutter("cone", angle=60.0, tip=1.0), cutter("drill"),
       cutter("profile", profile=((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (5.0, 4.0)))]
every = pytest.mark.parametrize("which", ALL, ids=lambda c: f"{c.shape} {c.corner or ''}")


@every
def test_the_lowest_point_is_the_tip_and_nothing_is_beyond_the_radius(which):
    profile = profile_of(which)
    rho = np.linspace(0, profile.radius, 500)
    assert profile.radius == 5.0
    assert profile.below(rho).min() == 0
    assert np.isinf(profile.below(5.0 + 1e-9))
    assert (np.diff(profile.below(rho)) >= 0).all()


@pytest.mark.parametrize(("diameter", "angle", "length"), [
    (6.6, 118.0, 1.983), (5.5, 118.0, 1.652), (9.0, 118.0, 2.704), (10.0, 90.0, 5.0), (10.0, 135.0, 2.071)])
def test_the_length_of_a_drills_point(diameter, angle, length):
    """(d/2)/tan(angle/2): worked numbers of the trade."""
    assert profile_of(cutter("drill", diameter, angle=angle)).tip_height == pytest.approx(length, abs=1e-3)


def test_a_drill_has_118_degrees_when_left_out():
    assert profile_of(cutter("drill")).tip_angle == 118.0
    assert profile_of(cutter("drill", 6.6)).tip_height == pytest.approx(1.983, abs=1e-3)


@given(st.floats(0, 5))
def test_each_shape_at_a_radius_by_its_definition(rho):
    assert profile_of(ALL[0]).below(rho) == 0
    assert profile_of(ALL[2]).below(rho) == pytest.approx(max(0, rho - 4.5))
    ball, bull = profile_of(ALL[4]).below(rho), profile_of(ALL[5]).below(rho)
    assert rho**2 + (5 - ball) ** 2 == pytest.approx(25)
    assert bull == pytest.approx(2 - math.sqrt(4 - max(0, rho - 3) ** 2))
    assert profile_of(ALL[6]).below(rho) == pytest.approx(max(0, rho - 0.5) / math.tan(math.radians(30)))


@every
@given(height=st.floats(0, 9))
def test_reach_is_the_widest_radius_at_or_below_a_height(which, height):
    profile = profile_of(which)
    rho = np.linspace(0, 5, 5001)
    assert profile.reach(height) == pytest.approx(rho[profile.below(rho) <= height].max(), abs=2e-3)
    assert profile.reach(-1.0) == 0


def test_only_flat_bottoms_are_flat():
    assert [profile_of(c).flat for c in ALL] == [True, True] + [False] * 7


def test_a_core_cuts_nothing_and_is_closed_for_strikes():
    profile = profile_of(ALL[1])
    assert (profile.core, profile.full().core, profile.below(1.0)) == (2.0, 0.0, 0.0)


@every
@given(rho=st.floats(0, 5), by=st.floats(0.01, 2), away=st.floats(0, 1))
def test_a_grown_cutter_lies_under_all_that_is_within_its_growth(which, rho, by, away):
    profile = profile_of(which).full()
    grown = profile.grown(by)
    moved = abs(rho + (2 * away - 1) * by)
    assert grown.below(moved) <= profile.below(rho) + 1e-9
    assert grown.radius == profile.radius + by


@every
@given(slope=st.floats(0, 0.05))
def test_a_tilted_cutter_touches_off_with_its_lowest_point(which, slope):
    profile = profile_of(which)
    rho = np.linspace(0, 5, 20001)
    assert profile.lift(slope) == pytest.approx(np.max(slope * rho - profile.below(rho)), abs=1e-7)


def test_a_tilted_flat_stands_its_radius_times_the_slope_higher():
    assert profile_of(ALL[0]).lift(1e-3) == 5e-3


@pytest.mark.parametrize(("given", "lacks"), [
    (Cutter(number=4, shape="flat"), "diameter"),
    (Cutter(number=4, shape="bull", diameter=6.0), "corner.radius"),
    (Cutter(number=4, shape="cone", diameter=6.0), "angle"), (Cutter(number=4, shape="profile"), "profile"),
    (Cutter(number=4, shape="facing", diameter=6.0, core=6.0), "core")])
def test_a_missing_measure_is_named(given, lacks):
    with pytest.raises(CutterUnshaped, match=lacks):
        profile_of(given)


def test_a_profile_stands_on_its_lowest_point():
    hollow = profile_of(Cutter(number=1, shape="profile", profile=((1.0, 2.0), (3.0, 1.0), (4.0, 5.0))))
    assert hollow.below([0.0, 1.0, 3.0, 4.0]).tolist() == [1.0, 1.0, 0.0, 4.0]
