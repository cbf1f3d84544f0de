"""What cycles do in the hole: strokes along the drilling axis."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.cycles import CYCLES, Bore, Stroke, bottoms

R, F, D, STILL, TURN = Stroke


def strokes(name: str, **words) -> list:
    bore = {"r": 2.0, "bottom": -10.0, "clear": 2.0, "between": 2.0, **words}
    return [(kind, round(value, 6)) for kind, value in CYCLES[name].strokes(Bore(**bore))]


def test_peck_with_full_retracts():
    """NIST IR 6556, 3.5.16.4, worked by hand (example 17): G99."""
    assert strokes("peck", peck=5.0) == [(F, -3), (R, 2), (R, -2.746), (F, -8), (R, 2), (R, -7.746), (F,
                                                                                                      -10),
                                                                                                      (R, 2)]


def test_peck_returns_to_the_clear_level_or_to_r():
    """Example 17: the report's text under G98, and the later practice."""
    text = strokes("peck", peck=5.0, clear=5.0, between=5.0)
    assert text == [(F, -3), (R, 5), (R, -2.746), (F, -8), (R, 5), (R, -7.746), (F, -10), (R, 5)]
    later = strokes("peck", peck=5.0, clear=5.0, between=2.0)
    assert later == [(F, -3), (R, 2), (R, -2.746), (F, -8), (R, 2), (R, -7.746), (F, -10), (R, 5)]


def test_chip_break():
    """Example 17: G73, from trade practice."""
    assert strokes("chip_break", peck=5.0, clear=5.0) == [
        (F, -3), (R, -2.746), (F, -8), (R, -7.746), (F, -10), (R, 5)]


def test_no_extra_peck_of_no_length():
    """Example 17: Q4 gives -2, -6, -10."""
    assert list(bottoms(Bore(2.0, -10.0, 2.0, peck=4.0))) == [-2, -6, -10]


@pytest.mark.parametrize(("name", "dwell", "wanted"), [
    ("drill", 0.0, [(F, -10), (R, 5)]),
    ("dwell", 0.5, [(F, -10), (D, 0.5), (R, 5)]),
    ("feed_out", 0.0, [(F, -10), (F, 5)]),
    ("dwell_feed_out", 0.5, [(F, -10), (D, 0.5), (F, 5)]),
    ("stop_out", 0.5, [(F, -10), (D, 0.5), (STILL, 0), (R, 5), (TURN, 0)])])
def test_the_simple_cycles(name, dwell, wanted):
    """NIST IR 6556, 3.5.16.2 to 3.5.16.10 (example 18)."""
    assert strokes(name, dwell=dwell, clear=5.0) == wanted


@given(st.floats(-50, 50), st.floats(0.01, 60), st.floats(0.05, 70))
def test_pecks_go_down_by_q_at_most_and_end_at_the_bottom(r, deep, peck):
    levels = [r, *bottoms(Bore(r, r - deep, r, peck=peck))]
    steps = [a - b for a, b in itertools.pairwise(levels)]
    assert levels[-1] == r - deep
    assert all(0 < step <= peck + 1e-9 for step in steps)


@pytest.mark.parametrize("name", CYCLES)
@given(deep=st.floats(0.1, 30), peck=st.floats(0.2, 10), lift=st.floats(0, 20))
def test_every_cycle_feeds_to_its_bottom_once_and_leaves_at_the_clear_level(name, deep, peck, lift):
    done = list(CYCLES[name].strokes(Bore(0.0, -deep, lift, peck=peck, between=0.0)))
    fed = [value for kind, value in done if kind is Stroke.FEED and value <= 0]
    assert min(fed) == -deep
    assert fed.count(-deep) == 1
    moved = [value for kind, value in done if kind in (Stroke.FEED, Stroke.RAPID)]
    assert moved[-1] == lift
    assert all(value > -deep for kind, value in done if kind is Stroke.RAPID)
