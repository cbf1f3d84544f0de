"""Arc geometry against closed forms, and its laws: mirrored, turned and split arcs are the same arc."""

from __future__ import annotations

from math import acos, atan2, cos, degrees, hypot, pi, radians, sin

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from proveout.parser.arcs import NoArc, Tolerance, by_centre, by_radius, in_quadrant, same, swept

STRICT = Tolerance(0.002)
COMPACT = Tolerance(0.005, 0.001, 0.5)

angles = st.floats(-pi, pi)
radii = st.floats(0.5, 500.0)
places = st.tuples(st.floats(-300, 300), st.floats(-300, 300))
ways = st.booleans()


def on(centre, radius, angle):
    return centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)


@pytest.mark.parametrize(("radius", "ccw", "centre", "sweep"), [
    (10, False, (5, -8.660254), -60), (-10, False, (5, 8.660254), -300),
    (10, True, (5, 8.660254), 60), (-10, True, (5, -8.660254), 300)])
def test_four_r_arcs_between_two_points(radius, ccw, centre, sweep):
    """By hand from NIST IR 6556, 3.5.3.1 (worked example 6)."""
    arc = by_radius((0, 0), (10, 0), radius, ccw, STRICT)
    assert arc.centre == pytest.approx(centre, abs=1e-6)
    assert degrees(arc.sweep) == pytest.approx(sweep, abs=1e-9)


def test_the_last_digit_of_a_half_circle_moves_its_centre():
    """Worked example 6: 180, 179.2753 and 177.7084 degrees."""
    seen = [by_radius((0, 0), (10, 0), r, False, STRICT) for r in (5, 5.0001, 5.001)]
    assert [arc.centre[1] for arc in seen] == pytest.approx([0, -0.0316, -0.1000], abs=1e-4)
    assert [degrees(arc.sweep) for arc in seen] == pytest.approx([-180, -179.2753, -177.7084], abs=1e-4)
    assert [arc.doubt for arc in seen] == ["", "arc-near-half", "arc-near-half"]


@given(places, radii, angles, st.floats(0.02, 2 * pi - 0.02), ways)
def test_centre_and_radius_format_draw_the_same_arc(centre, radius, begin, turn, ccw):
    assume(abs(turn - pi) > 0.05)
    start, end = on(centre, radius, begin), on(centre, radius, begin + (turn if ccw else -turn))
    assume(not same(start, end))
    by_r = by_radius(start, end, radius if turn < pi else -radius, ccw, STRICT)
    by_c = by_centre(start, end, centre, ccw, STRICT)
    # the centre by R is ill-conditioned as the chord shortens: common practice, no published source
    assert by_r.centre == pytest.approx(centre, abs=1e-6 + 1e-9 * radius**2)
    assert by_r.sweep == pytest.approx(by_c.sweep, abs=1e-6)
    assert abs(by_c.sweep) == pytest.approx(turn, abs=1e-9)


@given(places, radii, angles, st.floats(0.02, 2 * pi - 0.02), ways)
def test_a_mirrored_arc_turns_the_other_way(centre, radius, begin, turn, ccw):
    start, end = on(centre, radius, begin), on(centre, radius, begin + turn)
    assume(not same(start, end))
    flip = [(-x, y) for x, y in (start, end, centre)]
    arc, mirrored = by_centre(start, end, centre, ccw, STRICT), by_centre(*flip, not ccw, STRICT)
    assert mirrored.sweep == pytest.approx(-arc.sweep, abs=1e-9)


@given(places, radii, angles, st.floats(0.02, 2 * pi - 0.02), ways, angles)
def test_a_turned_arc_keeps_its_sweep(centre, radius, begin, turn, ccw, turned):
    start, end = on(centre, radius, begin), on(centre, radius, begin + turn)
    assume(not same(start, end))

    def rotate(p):
        return p[0] * cos(turned) - p[1] * sin(turned), p[0] * sin(turned) + p[1] * cos(turned)

    assume(not same(rotate(start), rotate(end)))
    arc = by_centre(start, end, centre, ccw, STRICT)
    assert by_centre(rotate(start), rotate(end), rotate(centre), ccw,
                     STRICT).sweep == pytest.approx(arc.sweep, abs=1e-9)


@given(places, radii, angles, st.floats(0.1, 2 * pi - 0.1), ways, st.floats(0.1, 0.9))
def test_the_parts_of_a_split_arc_add_up(centre, radius, begin, turn, ccw, share):
    sign = 1 if ccw else -1
    start, middle, end = (on(centre, radius, begin + sign * turn * part) for part in (0, share, 1))
    whole = by_centre(start, end, centre, ccw, STRICT).sweep
    parts = by_centre(start, middle, centre, ccw, STRICT).sweep + by_centre(middle, end, centre, ccw,
                                                                            STRICT).sweep
    assert parts == pytest.approx(whole, abs=1e-9)


@given(places, radii, angles, ways)
def test_the_same_point_is_a_whole_turn_whatever_the_last_binary_digit_says(centre, radius, begin, ccw):
    start = on(centre, radius, begin)
    for nudge in (0.0, 1e-12, -1e-9, 1e-5):
        sweep = swept(start, (start[0] + nudge, start[1]), centre, ccw)
        assert abs(sweep) == pytest.approx(2 * pi)


@pytest.mark.parametrize(("end", "tolerance", "taken"), [
    (10.0015, STRICT, True), (10.003, STRICT, False), (10.003, COMPACT, True), (10.02, COMPACT, False)])
def test_radii_may_differ_by_the_tolerance(end, tolerance, taken):
    """NIST IR 6556, 3.5.3: 0.002 mm; the compact rule is language.md F2."""
    if taken:
        assert by_centre((0, 0), (end, 0), (5, 0), False, tolerance).difference == pytest.approx(end - 10)
    else:
        with pytest.raises(NoArc) as bad:
            by_centre((0, 0), (end, 0), (5, 0), False, tolerance)
        assert bad.value.condition == "arc-radii-differ"
        assert bad.value.numbers["value"] == pytest.approx(end - 10)


def test_what_cannot_be_drawn_says_why():
    for condition, call in {
        "arc-one-point": lambda: by_radius((1, 1), (1, 1), 5, True, STRICT),
        "arc-zero-r": lambda: by_radius((0, 0), (1, 1), 0, True, STRICT),
        "arc-r-short": lambda: by_radius((0, 0), (10, 0), 4.9, True, STRICT),
        "arc-no-radius": lambda: by_centre((1, 1), (1, 1), (1, 1), True, STRICT),
    }.items():
        with pytest.raises(NoArc) as bad:
            call()
        assert bad.value.condition == condition


def test_a_short_r_is_stretched_where_the_control_does_that():
    arc = by_radius((0, 0), (10, 0), 4.9, True, STRICT, stretch=True)
    assert arc.centre == (5, 0)
    assert degrees(arc.sweep) == pytest.approx(180)


def test_turns_are_added_to_the_sweep():
    """n turns mean a sweep of (n-1)·360 to n·360 degrees: common practice, no published source."""
    assert degrees(by_centre((5, 0), (0, 5), (0, 0), True, STRICT, turns=3).sweep) == pytest.approx(720 + 90)
    assert degrees(by_centre((5, 0), (5, 0), (0, 0), False, STRICT, turns=2).sweep) == pytest.approx(-720)


@given(st.floats(0.01, 1.99))
def test_the_sweep_of_an_r_arc_is_twice_the_arcsine_of_half_chord_over_radius(chord):
    arc = by_radius((0, 0), (chord, 0), 1.0, True, STRICT)
    assert arc.sweep == pytest.approx(2 * (pi / 2 - acos(chord / 2)), abs=1e-7)
    assert hypot(*arc.centre) == pytest.approx(1.0, abs=1e-9)
    assert atan2(arc.centre[1], arc.centre[0]) >= 0


def test_radians_in_degrees_out_is_only_said_at_the_edge():
    assert by_centre((1, 0), (0, 1), (0, 0), True, STRICT).sweep == pytest.approx(radians(90))


QUARTERS = [((10, 0), (0, 10)), ((0, 10), (-10, 0)), ((-10, 0), (0, -10)), ((0, -10), (10, 0)),
            ((6, 8), (-6 + 1e-9, 8)), ((8, 6), (6, 8)), ((6, -8), (8, -6))]


@pytest.mark.parametrize(("start", "end"), QUARTERS)
@pytest.mark.parametrize("ccw", [True, False])
def test_within_a_quadrant_unsigned_distances_find_the_centre(start, end, ccw):
    """Tape practice: each arc about (0, 0) within one quadrant, whichever way it runs (its own case where the
    sweep is a right angle at most)."""
    begin, stop = (start, end) if ccw else (end, start)
    sweep = swept(begin, stop, (0.0, 0.0), ccw)
    sizes = abs(begin[0]), abs(begin[1])
    if abs(sweep) > pi / 2 + 1e-6:
        with pytest.raises(NoArc):
            in_quadrant(begin, stop, sizes, ccw, Tolerance())
        return
    arc = in_quadrant(begin, stop, sizes, ccw, Tolerance())
    assert arc.centre == pytest.approx((0, 0))
    assert arc.sweep == pytest.approx(sweep)


def test_g74_and_g75_choose_the_quadrants_of_arcs(run):
    """EIA RS-274-D: G75 multi-quadrant arcs, G74 off; unsigned I and J (practice)."""
    text = "G71 G90 G17 G94\nG0 X0 Y10\nG1 F100 X0 Y10\n{} G2 X10 Y0 I0 J{}"
    assert run(text.format("G74", "10"), "tape").arc() == pytest.approx((0, 0, -90))
    assert run(text.format("G75", "-10"), "tape").arc() == pytest.approx((0, 0, -90))
    assert run(text.format("G74", "9"), "tape").stops == ["arc-mismatch"]
    assert run(text.format("", "10"), "tape").arc() == pytest.approx((0, 0, -90))
    assert run(text.format("G75", "10"), "tape").stops == ["arc-mismatch"]
