"""Playing a result: moments, lines and reasons; what is drawn is the board at that moment."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.motion import MotionBuilder, Move
from proveout.viewer.player import SPEEDS, Player, nearest_board
from proveout.viewer.terrain import SHALLOW, Terrain
from proveout.viewer.timeline import Timeline


def motion(lines):
    built, at = MotionBuilder(), (0.0, 0.0, 0.0)
    for number, line in enumerate(lines, 1):
        end = (at[0] + 10.0 * (number % 3), at[1], at[2])
        built.move(Move.FEED, line, at, end, feed=600.0)
        at = end
    return built.motion()


@pytest.fixture(scope="module")
def player(demo_result):
    return Player(demo_result)


two_stages = st.tuples(st.lists(st.integers(1, 4), min_size=1, max_size=8),
                       st.lists(st.integers(1, 4), min_size=1, max_size=8))


@given(two_stages, st.floats(0, 1))
def test_a_time_and_its_moment_are_the_same(stages, part):
    timeline = Timeline.of([motion(sorted(lines)) for lines in stages])
    time = part * timeline.seconds
    assert timeline.time(*timeline.at(time)) == pytest.approx(time, abs=1e-9)


def test_ten_millimetres_at_600_a_minute_take_a_second():
    timeline = Timeline.of([motion([1])])
    assert timeline.seconds == pytest.approx(1.0)
    assert timeline.at(0.25) == (0, pytest.approx(0.25))
    assert timeline.tip(0, 0.25) == pytest.approx((2.5, 0, 0))


@given(two_stages)
def test_line_by_line_on_and_back_meets_the_same_places(stages):
    """Lines of one number that stand in two stages are two lines."""
    timeline = Timeline.of([motion(sorted(lines)) for lines in stages])
    on, at = [], 0
    while at < len(timeline):
        then = timeline.next_line(at)
        assert then > at
        assert len({(timeline.stage(row), int(timeline.line[row])) for row in range(at, then)}) == 1
        on.append(at)
        at = then
    back = []
    while at > 0:
        at = timeline.line_before(at)
        back.append(at)
    assert back[::-1] == on
    assert len(on) == sum(len(set(lines)) for lines in stages)


def test_each_reason_is_gone_to_where_it_was_found(player):
    for _ in range(2 * len(player.scene.marks)):
        mark = player.to_reason(1)
        assert player.line == mark.line
        assert np.hypot(*np.subtract(player.tip[:2], mark.at[:2])) < 25
    again = player.scene.marks.index(player.to_reason(-1))
    assert again == len(player.scene.marks) - 2


def test_what_is_read_out_is_the_board_then(player, demo_result):
    """The worst reason of the demo lies in a pass of its own line; before it that board is uncut."""
    player.to(len(player.timeline))
    surface = demo_result.surface
    assert f"Z{surface.at(300, 200):g}" in player.read_out(300, 200)
    assert "face.nc line" in player.read_out(300, 200)
    assert "no board there" in player.read_out(-50, 20)
    player.to(player.timeline.begin[1])
    assert "0.4 mm above the wanted face" in player.read_out(300, 205)
    assert "not cut by this stage" in player.read_out(300, 205)


def test_what_stands_is_what_the_job_put_there(player):
    """The front clamps go at the stop in the drilling program; screws are in while facing."""
    player.to(0)
    assert {"front left", "front right"} <= player.standing
    player.to(player.timeline.begin[1] - 1)
    assert {"back left", "back right"} <= player.standing
    assert not {"front left", "front right"} & player.standing
    player.to(len(player.timeline))
    assert {name.rpartition(" ")[0] for name in player.standing} == {"hold-down screws"}


def test_a_section_is_a_row_of_the_map(player, demo_result):
    player.to(len(player.timeline))
    along, heights, faced = player.profile("x", 60.1)
    row = int((60.1 - demo_result.surface.y0) / demo_result.surface.cell)
    np.testing.assert_array_equal(heights, demo_result.surface.heights[row])
    assert len(along) == len(heights)
    np.testing.assert_array_equal(faced, ~np.isnan(player.scene.relief.off[row]))


def test_a_section_where_there_is_no_board_is_the_nearest_that_has_some():
    """Two halves with a gap between them."""
    heights = np.full((10, 4), -0.4, np.float32)
    heights[4:7] = np.nan
    assert [nearest_board(heights, 1, k) for k in (3, 4, 6, 7)] == [3, 3, 7, 7]
    assert nearest_board(heights, 0, 2) == 2


def test_speeds_have_an_end(player):
    for by in (1, -1):
        for _ in range(9):
            player.faster(by)
        assert player.speed == (SPEEDS[-1] if by > 0 else SPEEDS[0])


def test_only_what_is_shallow_is_stretched(player):
    """A hole keeps its depth: it is drawn deeper only by what its first 2 mm are stretched."""
    terrain = player.terrain
    assert terrain.drawn_z(terrain.level, 20) == pytest.approx(terrain.level)
    assert terrain.drawn_z(terrain.level - 0.1, 20) == pytest.approx(terrain.level - 2, abs=1e-4)
    deep = terrain.level - 20 * SHALLOW - 16
    assert terrain.drawn_z(terrain.level - 18, 20) == pytest.approx(deep, abs=1e-4)


def test_what_changed_is_drawn_as_if_all_were_drawn_anew(player):
    """The grid that follows move by move is the grid of the whole surface."""
    for moment in (40, 41, 45.5, 300, 12, 380, 415):
        player.to(int(moment), moment % 1)
        fresh = Terrain(player.replay.surface, player.terrain.wanted_cells, 0.05, -18.0, player.terrain.lines,
                        player.terrain.stages)
        np.testing.assert_array_equal(player.terrain.z, fresh.z)
        assert player.terrain.points(5.0).shape == player.terrain.colours("wanted").shape
