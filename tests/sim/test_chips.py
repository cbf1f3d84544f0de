"""Feed per edge, feeds, coolant and the figures of cutting.

Oracles: the trade's check values and the handbook formula fz = vf/(n·z); windows are those of the table.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.finding import Severity
from proveout.parser.job import Corner, Cutter
from proveout.parser.motion import Spindle
from proveout.parser.reading import Unchecked
from proveout.parser.units import Units
from proveout.sim.checks.chips import chip_load, coolant_on_wood, feed_limit
from proveout.sim.edgework import feed_figures

FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")
DEPTH = -0.4


def one(said):
    (found,) = said
    return found


def faced(program, feed: float, **setup):
    """One pass 0.4 deep along the middle of the board, from beyond its edge."""
    return program.rapid(-20, 50, DEPTH).feed(220, 50, DEPTH, feed).evidence(**setup)


@pytest.mark.parametrize(("feed", "chip", "kinds"), [
    (800, 0.032, []), (2000, 0.080, []), (5000, 0.200, []), (500, 0.020, ["chip-thin"]),
    (8000, 0.320, ["chip-thick"])])
def test_check_values_of_the_trade(program, feed, chip, kinds):
    """12 500 rpm, 2 edges, MDF, 0.4 deep: 800 and 2000 are sensible, 500 rubs (common practice, no published
    source); fz = vf/(n·z), machining handbook."""
    evidence = faced(program, feed)
    assert one(feed_figures(evidence)).chip == pytest.approx((chip, chip))
    assert [found.kind for found in chip_load(evidence)] == kinds


def test_rubbing_says_which_feed_and_which_speed_reach_the_window(program):
    """Worked by hand: 0.03 mm per edge is 750 mm/min at 12 500 rpm, or 8333 rpm at 500 mm/min."""
    found = one(chip_load(faced(program, 500)))
    assert (found.value, found.limit, found.about, found.line) == (0.020, 0.03, "facing cutter", 2)
    assert found.severity is Severity.CAUTION
    assert found.message() == ("Facing cutter takes only 0.02 mm per edge for 28.8 s (500 mm/min at "
                               "12500 rpm); under 0.03 mm it rubs and burns.")
    assert found.advice() == "Feed at 750 mm/min or more, or turn at 8330 rpm or less."


def test_overload_says_which_feed_and_which_speed_reach_the_window(program):
    """Worked by hand: 0.30 mm per edge is 7500 mm/min at 12 500 rpm, or 13 334 rpm at 8000 mm/min."""
    found = one(chip_load(faced(program, 8000)))
    assert found.advice() == "Feed at 7500 mm/min or less, or turn at 13340 rpm or more."


def test_a_speed_that_cannot_be_had_is_not_proposed(program):
    found = one(chip_load(faced(program, 500, spindle=(10000, 24000))))
    assert found.advice() == "Feed at 750 mm/min or more (8330 rpm or less is not to be had here)."


def test_an_inch_job_is_advised_in_inches(program):
    found = one(chip_load(faced(program, 500, units="inch")))
    assert found.advice(Units.INCH).startswith("Feed at 30 in/min or more")


@given(feed=st.floats(1, 20000), speed=st.floats(500, 30000), edges=st.integers(1, 6))
@settings(max_examples=60)
def test_following_the_advice_reaches_the_window(new_program, feed, speed, edges):
    """fz = vf/(n·z) outside 0.03 to 0.30 is found, and the feed advised lies inside, a whole number."""
    cutter = replace(FACING, edges=edges)
    found = list(chip_load(faced(new_program().set(speed=speed), feed, cutters=(cutter,))))
    chip = feed / (speed * edges)
    assert [f.kind for f in found] == ["chip-thin"] * (chip < 0.03) + ["chip-thick"] * (chip > 0.30)
    for f in found:
        advised = f.numbers["feed"] if f.kind == "chip-thick" else f.numbers["fix"].numbers["feed"]
        assert advised == pytest.approx(round(advised))
        assert f.kind == "chip-thick" or advised / (speed * edges) >= 0.03 - 1e-9
        assert f.kind == "chip-thin" or advised / (speed * edges) <= 0.30 + 1e-9


def test_only_moves_in_material_count(program):
    program.feed(-20, 50, 10, 100).feed(-20, 50, DEPTH, 100)
    program.feed(220, 50, DEPTH, 2000).feed(220, 50, 10, 9000)
    evidence = program.evidence()
    assert list(chip_load(evidence)) == []
    assert one(feed_figures(evidence)).feeds == (2000, 2000)


def test_a_straight_plunge_counts_for_drills_only(program):
    """A turn of a drill at 300 mm/min and 6000 rpm is 0.050 mm, half of it for each lip: worked by hand."""
    program.set(speed=6000.0).rapid(100, 50, 2).feed(100, 50, -3, 300)
    flat, drill = (Cutter(number=1, shape=shape, diameter=6.6, edges=2) for shape in ("flat", "drill"))
    assert one(feed_figures(program.evidence(cutters=(flat,)))).chip is None
    assert one(feed_figures(program.evidence(cutters=(drill,)))).chip == pytest.approx((0.025, 0.025))
    assert list(chip_load(program.evidence(cutters=(flat,)))) == []


def test_many_thin_moves_are_one_finding_with_the_worst_value(program):
    program.rapid(-20, 50, DEPTH)
    for step, feed in enumerate((600, 500, 400, 700)):
        program.feed(step * 50, 50, DEPTH, feed)
    found = one(chip_load(program.evidence()))
    assert (found.count, found.lines, found.value) == (4, (2, 5), pytest.approx(0.016))
    assert found.at[2] == DEPTH


def test_by_hand_the_rpm_of_the_stage_counts(program):
    evidence = faced(program.set(speed=24000.0), 800, spindle_by="hand", stage={"rpm": 12500})
    assert one(feed_figures(evidence)).chip == pytest.approx((0.032, 0.032))


@pytest.mark.parametrize(("change", "material", "why"), [
    ({"edges": None}, "MDF", "its edges are not given"),
    ({}, None, "neither board.material nor its chip_load is given"),
    ({}, "granite", 'the material "granite" is not in the table and its chip_load is not given'),
    ({}, "MFD 19 mm",
     'the material "MFD 19 mm" is not in the table (did you mean "mdf"?) and its chip_load is not given'),
    ({"shape": "cone", "angle": 90, "tip": 5.0}, "MDF",
     "the table has no row for this cone cutter and its chip_load is not given")])
def test_what_is_left_out_is_unchecked(program, change, material, why):
    evidence = faced(program, 10, cutters=(replace(FACING, **change),), board={"material": material})
    assert list(chip_load(evidence)) == [Unchecked("chip load of facing cutter", why)]


def test_an_unknown_speed_is_unchecked_and_a_still_spindle_is_not_ours(program):
    assert isinstance(one(chip_load(faced(program.set(speed=None), 10))), Unchecked)


def test_a_still_spindle_is_for_another_check(program):
    assert list(chip_load(faced(program.switch(Spindle.STILL, "M5"), 10))) == []


def test_the_window_of_the_job_goes_first(program):
    own = replace(FACING, chip_load=(0.1, 0.12))
    found = one(chip_load(faced(program, 2000, cutters=(own,), board={"material": None})))
    assert (found.kind, found.limit) == ("chip-thin", 0.1)


@pytest.mark.parametrize(("feed", "found"), [(6000, []), (6001, ["feed-limit"])])
def test_feed_over_what_the_machine_does(program, feed, found):
    said = list(feed_limit(faced(program, feed, max_feed=6000)))
    assert [f.kind for f in said] == found
    assert all(f.value == 6001 and f.limit == 6000 for f in said)


def test_without_a_greatest_feed_nothing_is_said_to_be_checked(program):
    assert isinstance(one(feed_limit(faced(program, 99999))), Unchecked)


@pytest.mark.parametrize(("switched", "material", "severity"), [
    ("liquid", "MDF", Severity.CAUTION), (None, "birch plywood", Severity.NOTE), ("air", "MDF", None),
    ("extraction", "MDF", None), ("liquid", "aluminium", None), ("liquid", "HDPE", None)])
def test_coolant_on_wood(program, switched, material, severity):
    evidence = faced(program.set(flood=True), 2000, m8=switched, board={"material": material})
    assert [found.severity for found in coolant_on_wood(evidence)] == ([] if severity is None else [severity])


def test_each_coolant_code_has_its_own_finding_and_air_cuts_stay_dry(program):
    program.set(mist=True, flood=True).feed(220, 50, 10)
    assert list(coolant_on_wood(program.evidence(m7="liquid", m8="liquid"))) == []
    program.feed(220, 50, DEPTH).feed(-20, 50, DEPTH)
    found = list(coolant_on_wood(program.evidence(m7="liquid", m8="liquid")))
    assert [f.about for f in found] == ["M7", "M8"]
    assert "machine.m8" in found[1].advice()


def test_coolant_on_who_knows_what_is_unchecked(program):
    evidence = faced(program.set(mist=True), 2000, board={"material": None})
    assert isinstance(one(coolant_on_wood(evidence)), Unchecked)


def zigzag(program, steps, turn=0.0):
    """Passes along X (or, turned, along another way) at the given steps."""
    c, s = cos(turn), sin(turn)

    def spot(along, across):
        return 100 + along * c - across * s, 50 + along * s + across * c, DEPTH

    across, side = -30.0, -60.0
    program.rapid(*spot(side, across))
    for step in (*steps, None):
        side = -side
        program.feed(*spot(side, across))
        if step is not None:
            across += step
            program.feed(*spot(side, across))
    return program


@pytest.mark.parametrize("turn", [0.0, 1.5707963267948966, 0.3, 2.8])
def test_the_step_is_measured_on_the_path(program, turn):
    """In % of the flat width D - 2r: textbook geometry."""
    cutter = replace(FACING, corner=Corner(radius=1.0))
    figures = one(feed_figures(zigzag(program, (17, 17, 17, 4), turn=turn).evidence(cutters=(cutter,))))
    assert figures.step == pytest.approx(17)
    assert figures.step_percent == pytest.approx(100 * 17 / 23)


def test_one_pass_has_no_step_and_a_split_pass_is_one(program):
    program.rapid(-20, 30, DEPTH)
    for x in (50, 100, 150, 220):
        program.feed(x, 30, DEPTH)
    assert one(feed_figures(program.evidence())).step is None
    program.feed(220, 45, DEPTH)
    for x in (120, -20):
        program.feed(x, 45, DEPTH)
    assert one(feed_figures(program.evidence())).step == pytest.approx(15)


def test_passes_of_several_depths_are_not_mixed_up(program):
    for depth in (-0.4, -0.8):
        program.rapid(-20, 30, 5).rapid(-20, 30, depth).feed(220, 30, depth)
        program.feed(220, 48, depth).feed(-20, 48, depth)
    figures = one(feed_figures(program.evidence()))
    assert figures.step == pytest.approx(18)
    assert figures.depth == pytest.approx(0.4, abs=1e-4)


def test_figures_of_two_cutters_stand_apart(program):
    bit = Cutter(number=2, shape="flat", diameter=6, edges=1, name="bit")
    program.rapid(-20, 50, DEPTH).feed(220, 50, DEPTH, 2000).rapid(220, 50, 10)
    program.set(cutter=2, speed=18000.0).rapid(220, 20, 10).rapid(220, 20, -1).feed(-20, 20, -1, 1800)
    figures = {each.cutter: each for each in feed_figures(program.evidence(cutters=(FACING, bit)))}
    assert figures["facing cutter"].chip == pytest.approx((0.08, 0.08))
    assert figures["facing cutter"].window == (0.03, 0.30)
    assert figures["bit"].chip == pytest.approx((0.1, 0.1))
    assert figures["bit"].speed == 18000
