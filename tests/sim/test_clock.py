"""Time of moves, held against worked figures of textbook kinematics, closed forms and plain integration."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.motion import Happening, Motion, MotionBuilder, Move
from proveout.sim.clock import (
    attended,
    corner_speeds,
    courses,
    dwell_seconds,
    passing_speeds,
    ramped,
    seconds,
    untimed,
)


def path(*points, kind=Move.FEED, feed=2000.0) -> Motion:
    built = MotionBuilder()
    for line, (start, end) in enumerate(pairwise(points), 1):
        built.move(kind, line, start, end, feed=feed if kind is Move.FEED else math.nan)
    return built.motion()


def rest_to_rest(length: float, speed: float, push: float) -> float:
    one = np.ones(1)
    return float(ramped(length * one, speed * one, push * one, 0 * one, 0 * one)[0])


@pytest.mark.parametrize(("length", "expected"), [(600, 18.167), (20, 0.767), (2, 0.200)])
def test_worked_figures_from_rest_to_rest(length, expected):
    """Textbook kinematics, worked independently: 2000 mm/min, 200 mm/s²."""
    assert rest_to_rest(length, 2000 / 60, 200) == pytest.approx(expected, abs=5e-4)


def zigzag(passes: int, length: float, step: float) -> Motion:
    points = []
    for row in range(passes):
        ends = [(0, row * step, 0), (length, row * step, 0)]
        points += ends if row % 2 == 0 else ends[::-1]
    return path(*points)


def test_worked_zigzag():
    """Textbook kinematics: 586.2 s stopping at each corner, 9.60 min by length over feed."""
    motion = zigzag(31, 600, 20)
    assert seconds(motion, acceleration=200, rounding=0).sum() == pytest.approx(586.2, abs=0.05)
    assert seconds(motion).sum() / 60 == pytest.approx(9.60, abs=5e-3)
    assert seconds(motion, acceleration=200).sum() == pytest.approx(586.2, rel=0.05)


@pytest.mark.parametrize(("push", "rounding", "turn", "speed"), [
    (200, 0.01, 90, 2.20), (200, 0.01, 60, 3.60), (200, 0.01, 30, 7.53), (200, 0.01, 10, 22.9),
    (500, 0.02, 90, 4.91)])
def test_worked_corner_speeds(push, rounding, turn, speed):
    """Junction-deviation model of open motion controllers; its angle is 180 less the turn."""
    bent = math.radians(turn)
    motion = path((0, 0, 0), (100, 0, 0), (100 + 100 * math.cos(bent), 100 * math.sin(bent), 0))
    rows = np.arange(2)
    corner = corner_speeds(motion, rows, courses(motion, rows), np.full(2, float(push)), rounding)
    assert corner[1] == pytest.approx(speed, rel=2e-3)
    assert corner[[0, 2]].tolist() == [0, 0]


def test_facing_example_without_acceleration():
    """Worked by hand: 2.5 mm at 800 is 0.1875 s, 2080 mm at 3000 is 41.6 s."""
    built = MotionBuilder()
    built.move(Move.FEED, 1, (-15, 0, 2), (-15, 0, -0.5), feed=800)
    at = (-15.0, 0.0, -0.5)
    for row in range(6):
        over = (315.0 if at[0] < 0 else -15.0, 20.0 * row, -0.5)
        built.move(Move.FEED, 2, at, over, feed=3000)
        at = over
        if row < 5:
            up = (at[0], at[1] + 20, -0.5)
            built.move(Move.FEED, 3, at, up, feed=3000)
            at = up
    spent = seconds(built.motion())
    assert spent[0] == pytest.approx(0.1875)
    assert spent[1:].sum() == pytest.approx(41.6)


def test_rapid_waits_for_its_slowest_axis():
    """Closed form: the longest of each axis's way over its rate."""
    motion = path((0, 0, 0), (300, 100, 40), (300, 100, 0), kind=Move.RAPID)
    assert seconds(motion, (5000, 5000, 2500)) == pytest.approx([300 / 5000 * 60, 40 / 2500 * 60])
    assert seconds(motion, 1000) == pytest.approx([18, 2.4])


def test_helix_takes_its_own_length():
    """Worked by hand: one full turn of radius 5, 1.5 deep, is 31.4517 mm."""
    built = MotionBuilder()
    built.arc(1, (20, 0, 0), (20, 0, -1.5), plane=17, centre=(15, 0), sweep=2 * math.pi, feed=600)
    assert seconds(built.motion()) == pytest.approx([3.14517], abs=1e-5)


@pytest.mark.parametrize("plane", [17, 18, 19])
def test_straight_into_an_arc_along_its_tangent_does_not_slow(plane):
    """Closed form: one trapezoid over the whole length, the path being smooth."""
    first, second, _ = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}[plane]

    def point(a, b):
        spot = [0.0, 0.0, 0.0]
        spot[first], spot[second] = a, b
        return spot

    built = MotionBuilder()
    built.move(Move.FEED, 1, point(-100, -50), point(0, -50), feed=3000)
    built.arc(2, point(0, -50), point(50, 0), plane=plane, centre=(0, 0), sweep=math.pi / 2, feed=3000)
    built.move(Move.FEED, 3, point(50, 0), point(50, 100), feed=3000)
    whole = rest_to_rest(200 + 25 * math.pi, 50, 200)
    assert seconds(built.motion(), acceleration=200, rounding=0).sum() == pytest.approx(whole)


def test_each_axis_keeps_to_its_own_acceleration():
    motion = path((0, 0, 0), (0, 0, 100), (100, 0, 100), feed=6000)
    spent = seconds(motion, acceleration=(400, 400, 100), rounding=0)
    assert spent == pytest.approx([rest_to_rest(100, 100, 100), rest_to_rest(100, 100, 400)])


def test_dwells_stops_and_what_is_left_out():
    built = MotionBuilder()
    built.move(Move.FEED, 1, (0, 0, 0), (100, 0, 0), feed=6000)
    built.event(Happening.DWELL, 2, 1.5, "G4")
    built.event(Happening.STOP, 3, code="M0")
    built.move(Move.FEED, 4, (100, 0, 0), (200, 0, 0), feed=6000)
    built.move(Move.FEED, 5, (200, 0, 0), (300, 0, 0))
    built.move(Move.RAPID, 6, (300, 0, 0), (300, 0, math.nan))
    motion = built.motion()
    assert dwell_seconds(motion) == 1.5
    assert [event.code for event in attended(motion)] == ["M0"]
    assert seconds(motion, 5000).tolist() == [1, 1, 0, 0]
    assert [said.what for said in untimed(motion, None)] == [
        "time of speeding up and slowing down", "time of rapids", "time of feed moves",
        "time at stops and cutter changes"]
    assert seconds(motion, 5000, 200).sum() == pytest.approx(2 * rest_to_rest(100, 100, 200))


coordinate = st.integers(-100, 100).map(float)
points = st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=2, max_size=12)


@given(points, st.floats(100, 9000), st.floats(20, 2000), st.floats(0, 0.1))
def test_acceleration_only_ever_adds_and_rounding_only_ever_saves(spots, feed, push, rounding):
    motion = path(*spots, feed=feed)
    plain, stopping = seconds(motion).sum(), seconds(motion, acceleration=push, rounding=0).sum()
    rounded = seconds(motion, acceleration=push, rounding=rounding).sum()
    assert plain - 1e-9 <= rounded <= stopping + 1e-9


@given(st.floats(1, 1000), st.integers(1, 40), st.floats(100, 9000), st.floats(20, 2000))
def test_a_split_move_takes_as_long(length, parts, feed, push):
    spots = [(length * part / parts, 0.0, 0.0) for part in range(parts + 1)]
    whole = seconds(path(spots[0], spots[-1], feed=feed), acceleration=push).sum()
    assert seconds(path(*spots, feed=feed), acceleration=push).sum() == pytest.approx(whole, rel=1e-6)


@given(points, st.floats(100, 9000), st.floats(20, 2000))
def test_there_and_back_take_the_same(spots, feed, push):
    there, back = path(*spots, feed=feed), path(*spots[::-1], feed=feed)
    assert seconds(there, acceleration=push).sum() == pytest.approx(seconds(back, acceleration=push).sum())


moves = st.lists(st.tuples(st.floats(0.01, 50), st.floats(1, 100), st.floats(20, 2000), st.floats(0, 120)),
                 min_size=1, max_size=30)


@given(moves)
def test_passing_speeds_agree_with_two_plain_loops(rows):
    """Oracle: brake from the end backward, then speed up from the start, one move at a time."""
    length, speed, push, corner = (np.array(column) for column in zip(*rows, strict=True))
    corner = np.concatenate(([0.0], corner[1:], [0.0]))
    expected = np.minimum(corner, np.minimum(np.append(speed, np.inf), np.append(np.inf, speed)))
    for i in range(len(rows) - 1, -1, -1):
        expected[i] = min(expected[i], math.sqrt(expected[i + 1] ** 2 + 2 * push[i] * length[i]))
    for i in range(len(rows)):
        expected[i + 1] = min(expected[i + 1], math.sqrt(expected[i] ** 2 + 2 * push[i] * length[i]))
    assert passing_speeds(length, speed, push, corner) == pytest.approx(expected, abs=1e-5)


@given(st.floats(0.1, 400), st.floats(1, 100), st.floats(20, 2000), st.floats(0, 1))
def test_ramped_covers_its_length(length, speed, push, part):
    """Oracle: the speed profile integrated step by step over the time found covers the length."""
    entry = part * min(speed, math.sqrt(2 * push * length))
    spent = float(ramped(*(np.array([v]) for v in (length, speed, push, entry, 0.0)))[0])
    bends = [(speed - entry) / push, spent - speed / push, (spent - entry / push) / 2]
    t = np.sort(np.clip([*np.linspace(0, spent, 101), *bends], 0, spent))
    v = np.minimum(speed, np.minimum(entry + push * t, push * (spent - t)))
    assert np.trapezoid(v, t) == pytest.approx(length, rel=1e-6)
