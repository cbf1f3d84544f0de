"""Numbers as a person reads them, in millimetres and in inches. Oracle: decimal arithmetic."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.units import DIMENSIONS, MM_PER_INCH, Units

dimensions = st.sampled_from(sorted(DIMENSIONS))
units = st.sampled_from(list(Units))
sensible = st.floats(-1e6, 1e6)


@pytest.mark.parametrize(("value", "dimension", "mm", "inch"), [
    (25.4, "length", "25.4 mm", "1 in"), (0.4, "length", "0.4 mm", "0.0157 in"),
    (2000, "feed", "2000 mm/min", "78.7 in/min"),
    (645.16, "area", "645.16 mm²", "1 in²"), (16387.064, "volume", "16387 mm³", "1 in³"),
    (12500, "speed", "12500 rpm", "12500 rpm"), (3, "angle", "3°", "3°"), (50, "percent", "50%", "50%"),
    (2, "count", "2", "2"), (1.5, "time", "1.5 s", "1.5 s"), (0.0, "length", "0 mm", "0 in"),
    (-0.0, "length", "0 mm", "0 in"), (-1.25, "length", "-1.25 mm", "-0.0492 in"),
    (100, "feed", "100 mm/min", "3.9 in/min"),
    (238724.64, "area", "238725 mm²", "370.02 in²"), (3122.04, "area", "3122 mm²", "4.8392 in²"),
    (0.032, "chip", "0.032 mm", "0.0013 in"), (1e-4, "length", "0.0001 mm", "0.000004 in")])
def test_what_a_person_reads(value, dimension, mm, inch):
    """An inch is 25.4 mm by definition."""
    assert Units.MM.text(value, dimension) == mm
    assert Units.INCH.text(value, dimension) == inch


@given(units, sensible, dimensions)
def test_rounding_stays_within_half_of_the_last_place(unit, value, dimension):
    power, _, _, *places = DIMENSIONS[dimension]
    exact = Decimal(value) / (Decimal("25.4") ** power if unit is Units.INCH else 1)
    shown, place = Decimal(unit.digits(value, dimension)), places[unit is Units.INCH]
    if dimension == "fine" and abs(value) >= 0.1:  # a tenth of a millimetre and more: thousandths are enough
        place -= 1
    if power > 1:  # five digits of an area or volume are enough
        place = min(place, max(0, 5 - len(str(int(abs(exact))))))
    assert abs(shown - exact) <= Decimal(10) ** -place / 2 * (1 + Decimal("1e-9"))


@given(units, st.floats(1e-6, 1e-2), st.sampled_from([1, -1]))
def test_a_small_length_never_reads_as_nothing(unit, value, sign):
    """At least the first digit is seen: a gap of a micrometre is not 0."""
    shown = float(unit.digits(sign * value, "length"))
    assert shown * sign > 0
    assert shown == pytest.approx(unit.number(sign * value), rel=0.26)


@given(units, sensible, dimensions)
def test_no_dangling_point_no_minus_zero_no_exponent(unit, value, dimension):
    shown = unit.digits(value, dimension)
    assert not shown.endswith(".")
    assert shown != "-0"
    assert set(shown) <= set("-.0123456789")
    assert "." not in shown or not shown.endswith("0")


@given(sensible, st.sampled_from(["length", "feed", "area", "volume", "speed", "angle"]))
def test_an_inch_number_goes_back_to_its_millimetres(value, dimension):
    power = DIMENSIONS[dimension][0]
    assert Units.INCH.number(value, dimension) * MM_PER_INCH**power == pytest.approx(value)
    assert Units.MM.number(value, dimension) == value


def test_every_dimension_has_a_name_in_both_units():
    for dimension, (power, mm, inch, *_) in DIMENSIONS.items():
        assert (Units.MM.sign(dimension), Units.INCH.sign(dimension)) == (mm, inch)
        assert (mm != inch) == bool(power)
