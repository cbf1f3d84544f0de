"""Screws: length, head and seat, each with a case that just has it not.

Head and thread sizes are those of the standards' tables; that a screw needs one diameter of thread, and
half a millimetre to the bottom, is common practice, no published source.
"""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked

PASS = "G0 X-20 Y50\nG0 Z-0.4\nG1 X220 F2000\n"
HOLE = 'openings = [ { name = "tapped", diameter = 5.0, mouth = 8.0, depth = 15, at = [[100, 50]] } ]'
TYPED = "recess = { diameter = 13, depth = 8 }"
CUT = 'recess = { cut_by = "work" }'


def screws(seat: float | str = -8.0, *, length: float | None = None, recess: str = TYPED, head: str = "",
           washer: bool = False) -> str:
    return (f'[[fasteners]]\nname = "screws"\n{head or "screw = " + chr(34) + "ISO 7380-1 M6" + chr(34)}\n'
            f'at = [[100, 50]]\nseat = {seat}\n{recess}\n' + (f"length = {length}\n" if length else "")
            + ('washer = "ISO 7089 M6"\n' if washer else ""))


@pytest.mark.parametrize(("length", "severity", "value"), [
    (17.4, Severity.CAUTION, 5.9), (17.5, None, 0), (24.5, None, 0), (24.6, Severity.STOP, 0.4)])
def test_too_short_to_hold_and_too_long_to_pull(found, length, severity, value):
    """Under the head Z-8, bed at -18, thread from -19.5 (chamfer 1.5) to -33: M6 wants 6, end over -32.5."""
    said = found("screw-length", PASS, more=screws(length=length), bed=HOLE)
    assert [f.severity for f in said] == ([] if severity is None else [severity])
    for each in said:
        assert each.value == pytest.approx(value)
        assert (each.about, each.line) == ("screws 1", 0)
        assert "0.1 mm" in each.advice()


def test_a_washer_makes_it_shorter(found):
    """1.8 mm of washer: 19.2 no longer holds 6 mm in the thread, 19.3 does."""
    wide = "recess = { diameter = 13, depth = 8 }"
    for length, count in ((19.2, 1), (19.3, 0)):
        said = found("screw-length", PASS, more=screws(length=length, washer=True, recess=wide), bed=HOLE)
        assert len(said) == count


def test_the_length_of_a_countersunk_screw_counts_with_its_head(found):
    """Head top at Z-1: 24.4 ends at -25.4, 5.9 under -19.5."""
    for length, count in ((24.4, 1), (24.5, 0)):
        more = screws(-1, length=length, head='screw = "ISO 10642 M6"')
        assert len(found("screw-length", PASS, more=more, bed=HOLE)) == count


def test_a_screw_over_no_thread_and_one_without_length_are_unchecked(judged):
    beside = HOLE.replace("100, 50", "120, 50")
    said = judged(PASS, more=screws(length=20), bed=beside).unchecked
    assert Unchecked("length of screws 1", "no tapped hole of the bed lies under it") in said
    said = judged(PASS, more=screws(), bed=HOLE).unchecked
    assert Unchecked("length of screws", "its length is not given") in said


def test_a_group_is_judged_in_its_first_stage_only(found):
    said = found("screw-length", PASS, more=screws(length=10), bed=HOLE, then="fitted = ['screws']")
    assert [f.stage for f in said] == ["work"]
    later = found("screw-length", PASS, more=screws(length=10), bed=HOLE, stage="fitted = []",
                  then="fitted = ['screws']")
    assert [f.stage for f in later] == ["then"]


@pytest.mark.parametrize(("recess", "washer", "parts"), [
    (10.5, False, []), (10.4, False, ["head"]), (12, True, []), (11.9, True, ["washer"])])
def test_heads_and_washers_in_their_recess(found, recess, washer, parts):
    """ISO 7380-1 M6: 10.5 wide; ISO 7089 M6: 12."""
    more = screws(recess=f"recess = {{ diameter = {recess}, depth = 8 }}", washer=washer)
    said = found("head-fit", PASS, more=more)
    assert [f.numbers["part"] for f in said] == parts
    assert all(f.severity is Severity.STOP and f.limit == pytest.approx(recess) for f in said)


MILL = """
[[cutters]]
number = 1
name = "mill"
shape = "flat"
diameter = {}
edges = 2
"""
DOWN = "G0 X{} Y50\nG0 Z2\nG1 Z-8 F300\nG0 Z20\n"
FITTED = "fitted = ['screws']"


@pytest.mark.parametrize(("width", "x", "fits"), [
    (10.6, 100, True), (10.4, 100, False), (12.5, 100.9, True), (12.5, 101.1, False)])
def test_heads_in_the_recess_that_was_really_drilled(found, width, x, fits):
    """10.5 mm of head; a recess of 12.5 that is 1 mm off the screw's axis leaves 5.25 to the near side."""
    said = found("head-fit", DOWN.format(x), more=screws(recess=CUT), cutters=MILL.format(width),
                 stage="fitted = []", then=FITTED + "\nzero = [0, 0, 40]")
    assert bool(said) is not fits


@pytest.mark.parametrize(("seat", "side"), [(-7.8, None), (-7.79, "lower"), (-8.2, None), (-8.21, "higher")])
def test_a_typed_seat_against_the_floor(found, seat, side):
    said = found("seat-mismatch", PASS, more=screws(seat))
    assert [f.numbers["side"] for f in said] == ([] if side is None else [side])
    assert all(f.severity is Severity.STOP and f.limit == pytest.approx(-8) for f in said)


def test_a_seat_is_held_against_what_the_stage_before_cut(found):
    job = {"cutters": MILL.format(13), "stage": "fitted = []", "then": FITTED + "\nzero = [0, 0, 40]"}
    assert found("seat-mismatch", DOWN.format(100), more=screws(-8, recess=CUT), **job) == []
    (said,) = found("seat-mismatch", DOWN.format(100), more=screws(-6, recess=CUT), **job)
    assert (said.stage, said.limit) == ("then", pytest.approx(-8))


def test_a_seat_that_is_found_cannot_be_wrong(found):
    assert found("seat-mismatch", PASS, more=screws('"floor"')) == []


@pytest.mark.parametrize(("seat", "thickness", "limit"), [(-12, 18, None), (-12.01, 18, 6), (-7, 12, None),
                                                          (-7.01, 12, 5)])
def test_board_that_stays_under_a_seat(found, seat, thickness, limit):
    """A third of 18 is 6, of 12 it is 4, but 5 is the least; common practice, no published source."""
    said = found("seat-thin", PASS, more=screws(seat), thickness=str(thickness), bed_top=str(-thickness))
    assert [(f.about, f.limit) for f in said] == ([] if limit is None else [("screws", pytest.approx(limit))])
    assert all(f.value == pytest.approx(limit - 0.01) and "0.01 mm higher" in f.advice() for f in said)


@pytest.mark.parametrize(("seat", "washer", "count"), [(-3.3, False, 0), (-3.29, False, 1), (-5.1, True, 0),
                                                       (-5.09, True, 1)])
def test_a_head_that_stands_out_of_its_recess(found, seat, washer, count):
    """ISO 7380-1 M6 is 3.3 high, ISO 7089 M6 1.8 thick at most: 3.30 + 1.80 = 5.10 [fasteners, finding 3]."""
    recess = f"recess = {{ diameter = 13, depth = {-seat} }}"
    said = found("head-fit", "G0 Z40\n", more=screws(seat, recess=recess, washer=washer))
    assert [f.severity for f in said] == [Severity.CAUTION] * count
    for each in said:
        assert each.value == pytest.approx(5.1 if washer else 3.3)
        assert each.limit == pytest.approx(-seat)
        assert "stands out of the board" in each.message()
    open_to_the_air = screws(seat, recess="", washer=washer)  # no recess: it may stand out
    assert found("head-fit", "G0 Z40\n", more=open_to_the_air) == []


@pytest.mark.parametrize(("sunk", "count"), [(5.2, 0), (5.21, 1), (4.0, 0)])
def test_a_head_that_was_measured_lower_than_the_table_lets_it_be(found, sunk, count):
    """On Z -8.0, 3.3 high (ISO 7380-1 M6): 4.7 under the surface; 0.5 lower is told, higher counts."""
    measured = f"\nmeasured = [ {{ at = [100, 50], sunk = {sunk} }} ]"
    said = found("measure-doubt", "G0 Z40\n", more=screws(-8, recess=TYPED + measured))
    assert [f.severity for f in said] == [Severity.NOTE] * count
    for each in said:
        assert (each.value, each.limit) == (pytest.approx(sunk), pytest.approx(4.7))
        assert f"its floor lies at Z {-8 - (sunk - 4.7):g} mm" in each.advice()
