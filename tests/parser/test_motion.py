"""The table of moves: lengths and boxes of paths, held against closely sampled points."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.motion import PLANE_AXES, Motion, MotionBuilder, Move, Spindle, State

angle = st.floats(-math.pi, math.pi)
turn = st.floats(0.01, 9 * math.pi).flatmap(lambda size: st.sampled_from([size, -size]))


def arc(plane, centre, radius, start, sweep, rise) -> tuple[Motion, np.ndarray]:
    """One arc, and 20 001 points of it."""
    first, second, third = PLANE_AXES[plane]
    along = np.linspace(0, 1, 20_001)
    points = np.empty((len(along), 3))
    points[:, first] = centre[0] + radius * np.cos(start + along * sweep)
    points[:, second] = centre[1] + radius * np.sin(start + along * sweep)
    points[:, third] = rise * along
    built = MotionBuilder()
    built.arc(1, points[0], points[-1], plane=plane, centre=centre, sweep=sweep, feed=600)
    return built.motion(), points


@given(st.sampled_from([17, 18, 19]), st.tuples(st.floats(-50, 50), st.floats(-50, 50)), st.floats(0.5, 50),
       angle, turn, st.floats(-10, 10))
def test_boxes_and_lengths_of_arcs(plane, centre, radius, start, sweep, rise):
    """Oracle: the arc as 20 000 chords."""
    motion, points = arc(plane, centre, radius, start, sweep, rise)
    assert motion.boxes()[0] == pytest.approx(np.stack((points.min(axis=0), points.max(axis=0))), abs=1e-4)
    chords = np.linalg.norm(np.diff(points, axis=0), axis=1).sum()
    assert motion.length()[0] == pytest.approx(chords, rel=1e-5)


def test_a_straight_move_fills_the_box_between_its_ends_and_an_unplaced_one_none():
    built = MotionBuilder()
    built.move(Move.FEED, 1, (5, 0, 2), (1, 4, -1), feed=600)
    built.move(Move.RAPID, 2, (1, 4, -1), (math.nan, 4, 5))
    boxes = built.motion().boxes()
    assert boxes[0].tolist() == [[1, 0, -1], [5, 4, 2]]
    assert np.isnan(boxes[1]).all()


def test_states_hold_from_the_next_move_on():
    built = MotionBuilder()
    built.move(Move.RAPID, 1, (0, 0, 5), (1, 0, 5))
    built.state(State(cutter=3, spindle=Spindle.CLOCKWISE, speed=9000, shift=(10, 20, 30), offset="G55"))
    built.move(Move.FEED, 2, (1, 0, 5), (2, 0, 5), feed=600)
    motion = built.motion()
    assert np.isnan(motion.column("speed")[0])
    assert motion.column("speed")[1] == 9000
    assert motion.column("offset").tolist() == ["G54", "G55"]
    assert motion.shown(1, (2, 0, 5)) == (-8, -20, -25)
    assert motion.shown(0, (2, 0, 5)) == (2, 0, 5)
