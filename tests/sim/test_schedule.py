"""Where a stage's time goes: the parts add up, passes are found, times are those of textbook kinematics."""

from __future__ import annotations

import pytest

MACHINE = "rapid = 5000\nacceleration = 200"


def zigzag(passes: int, length: float, step: float) -> str:
    """Cut along X, there and back, joined at their ends by steps along Y."""
    lines = ["G0 X0 Y0", "G0 Z3", "G1 Z-0.4 F2000"]
    for row in range(passes):
        lines += [f"G1 Y{step * row:g}"] * (row > 0) + [f"G1 X{length if row % 2 == 0 else 0:g}"]
    return "\n".join(lines) + "\n"


def figures(result):
    (stage,) = result.stages
    return stage, stage.time


def test_a_zigzag_takes_what_textbook_kinematics_gives(judged):
    """31 passes of 600 mm and 30 steps of 20 at 2000 mm/min and 200 mm/s²: 586.2 s when it stops in each
    corner, 18.167 s a pass and 0.767 s a step (formulas: motion time [T]); rounding saves 5 % at most."""
    result = judged(zigzag(31, 600, 20), machine=MACHINE, outline="x = [0, 600]\ny = [0, 600]",
                    begin="G21 G90 G17 G94 G54\nS12500 M3\n")
    _, time = figures(result)
    assert len(time.passes) == 31
    assert [p.seconds for p in time.passes] == pytest.approx([18.167] * 31, rel=0.05)
    steps = time.other_feeds - 3.4 / (2000 / 60)  # the way down: 3 + 0.4 mm
    assert steps == pytest.approx(30 * 0.767, rel=0.05)
    assert time.in_passes + steps == pytest.approx(586.2, rel=0.05)
    assert time.accelerated


def test_the_parts_are_the_whole(judged):
    result = judged(zigzag(4, 200, 20) + "G4 P2\nG0 Z5\nM0\nG0 X0 Y0\nG1 Z-0.4 F500\nX200 F1500\n",
                    machine=MACHINE)
    stage, time = figures(result)
    assert time.in_passes + time.other_feeds + time.rapids + time.dwells == pytest.approx(stage.seconds)
    assert time.in_passes == pytest.approx(sum(each.seconds for each in time.passes))
    assert time.dwells == 2
    assert len(time.passes) == 5


def test_a_pass_in_many_moves_is_one(judged):
    whole = "G0 X-20 Y50\nG0 Z3\nG1 Z-0.4 F500\nX220 F2000\n"
    parts = whole.replace("X220 F2000\n", "F2000\n" + "".join(f"X{x}\n" for x in range(0, 221, 20)))
    (one,), (many,) = (figures(judged(text, machine=MACHINE))[1].passes for text in (whole, parts))
    assert (many.start, many.end, many.length) == (one.start, one.end, pytest.approx(one.length))
    assert many.seconds == pytest.approx(one.seconds)
    assert many.last_line > many.line


def test_a_short_way_or_a_rapid_is_no_pass(judged):
    """A pass is 0.3 of the board's longer side, here 60 mm."""
    for length, count in ((59, 0), (61, 1)):
        lines = f"G0 X0 Y50\nG0 Z3\nG1 Z-0.4 F500\nX{length} F2000\nG0 Z5\nG0 X200\n"
        result = judged(lines, machine=MACHINE)
        assert len(figures(result)[1].passes) == count


def test_stops_and_changes_are_named_with_the_running_time_before_them(judged):
    """Worked by hand, without acceleration: 200 mm at 2000 mm/min are 6 s, after 2 s of dwell and a plunge of
    10 mm at 600 mm/min, 1 s; an optional stop that the switch lets pass waits for nobody."""
    lines = "G4 P2\nG0 X0 Y50\nG1 Z9 F600\nG1 Z10\nX200 F2000\nM0\nM1\nT2 M6\nS4000 M3\n"
    result = judged(lines, begin="G21 G90 G17 G94 G54\nS12500 M3\nG0 Z10\n", stage="optional_stop = false")
    _, time = figures(result)
    assert [(w.code, w.cutter) for w in time.waits] == [("M0", None), ("M6", 2)]
    assert [w.after for w in time.waits] == pytest.approx([2 + 0.1 + 0.1 + 6] * 2, abs=0.01)
    assert not time.accelerated
