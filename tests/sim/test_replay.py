"""A stage replayed: at every moment the board is what cutting that far leaves, also back and in a move."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from proveout.parser.job import Cutter, Tram
from proveout.parser.motion import Motion, MotionBuilder, Move
from proveout.sim.cut import cut_stage
from proveout.sim.replay import Replay, beginning, place
from proveout.sim.surface import Surface
from proveout.sim.verify import verify

CUTTERS = (Cutter(number=1, shape="flat", diameter=12.0), Cutter(number=2, shape="ball", diameter=8.0))
ROOM = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])

place_in = st.tuples(st.integers(-5, 65), st.integers(-5, 45), st.integers(-30, 30).map(lambda z: z / 10))
step = st.tuples(st.sampled_from([Move.RAPID, Move.FEED, Move.ARC]), place_in)
moment = st.tuples(st.integers(0, 12), st.sampled_from([0.0, 0.25, 0.5, 0.9]))


def program(steps) -> Motion:
    built, at = MotionBuilder(), (0.0, 0.0, 5.0)
    for line, (kind, end) in enumerate(steps, 1):
        if kind == Move.ARC:
            middle = ((at[0] + end[0]) / 2, (at[1] + end[1]) / 2)
            built.arc(line, at, end, plane=17, centre=middle, sweep=np.pi, feed=800.0)
        else:
            built.move(kind, line, at, end, feed=800.0)
        at = end
    return built.motion()


def board() -> Surface:
    return Surface.of_board(shapely.box(0, 0, 60, 40), 0.0, 0.5)


def mounted(motion: Motion) -> np.ndarray:
    """The first cutter for the first half, the second for the rest."""
    cutters = np.empty(len(motion), object)
    cutters[:] = [CUTTERS[2 * row >= len(motion)] for row in range(len(motion))]
    return cutters


def upto(motion: Motion, moves: int, part: float) -> Motion:
    """The first moves, and a part of the next: written out anew."""
    whole = {name: getattr(motion, name)[:moves] for name in
             ("line", "kind", "start", "end", "feed", "state", "arc", "cycle")}
    if moves == len(motion) or part == 0:
        return replace(motion, **whole)
    piece = beginning(motion, moves, part)
    arcs = replace(motion.arcs, plane=np.append(motion.arcs.plane, piece.arcs.plane),
                   centre=np.concatenate([motion.arcs.centre, piece.arcs.centre]),
                   sweep=np.append(motion.arcs.sweep, piece.arcs.sweep))
    more = {name: np.concatenate([whole[name], getattr(piece, name)]) for name in whole}
    if len(piece.arcs):
        more["arc"][-1] = len(motion.arcs)
    return replace(motion, arcs=arcs, **more)


@ROOM
@given(st.lists(step, min_size=1, max_size=12), st.lists(moment, min_size=1, max_size=6))
def test_every_moment_is_what_cutting_that_far_leaves(steps, moments):
    motion = program(steps)
    cutters = mounted(motion)
    replay = Replay(board(), motion, cutters, first_id=100)
    for moves, part in moments:
        moves = min(moves, len(motion))
        before = replay.surface.copy()
        rows, columns = replay.to(moves, part)
        wanted, short = board(), upto(motion, moves, part)
        cut_stage(wanted, short, [*cutters[:moves], *cutters[moves:moves + 1]][:len(short)], first_id=100)
        np.testing.assert_array_equal(replay.surface.heights, wanted.heights)
        np.testing.assert_array_equal(replay.surface.last, wanted.last)
        outside = np.ones(wanted.shape, bool)
        outside[rows, columns] = False
        np.testing.assert_array_equal(replay.surface.heights[outside], before.heights[outside])


def test_the_tip_on_an_arc_keeps_its_radius():
    motion = program([(Move.RAPID, (10, 20, -1)), (Move.ARC, (50, 20, -1))])
    for part in np.linspace(0, 1, 9):
        at = place(motion, 1, float(part))
        assert abs(np.hypot(at[0] - 30, at[1] - 20) - 20) < 1e-9
        assert at[2] == -1
    np.testing.assert_allclose(place(motion, 1, 0.5), (30, 0, -1), atol=1e-9)


def test_the_end_of_a_replay_is_the_result(demo_result):
    """Every stage of the demo, replayed to its end, leaves the map that the check left."""
    for number in range(len(demo_result.stages)):
        replay = Replay.of(demo_result, number)
        replay.to(len(replay))
        after = (demo_result.records[number + 1].cut.before if number + 1 < len(demo_result.stages)
                 else demo_result.surface.heights)
        np.testing.assert_array_equal(replay.surface.heights, after)
    np.testing.assert_array_equal(replay.surface.last, demo_result.surface.last)


def test_a_spindle_out_of_tram_is_replayed_as_it_leans(demo_result):
    """The same for a job whose spindle leans 0.5 mm in 200, on cells of 4 mm."""
    job = demo_result.job
    leaning = replace(job, machine=replace(job.machine, tram=Tram(swing=200.0, x=0.5, y=-0.3)),
                      board=replace(job.board, cell=4.0), stages=job.stages[1:])
    result = verify(leaning)
    replay = Replay.of(result, 0)
    replay.to(len(replay))
    np.testing.assert_array_equal(replay.surface.heights, result.surface.heights)
    assert len(np.unique(result.surface.heights)) > 100
