"""Past facings against the thickness, by sums worked by hand."""

from __future__ import annotations

import pytest
from proveout.parser.finding import Severity
from proveout.parser.reading import Unchecked


def history(*facings: str) -> str:
    return f"history = [ {', '.join('{ ' + facing + ' }' for facing in facings)} ]"


@pytest.mark.parametrize(("thickness", "side"), [(17.2, None), (17.0, None), (17.4, None), (17.5, "more"),
                                                 (16.9, "less"), (18, "more")])
def test_the_thickness_after_the_last_facing(found, thickness, side):
    """17.6 were left, then 0.4 came off: 17.2."""
    said = found("history-doubt", "G0 Z25\n", thickness=str(thickness), bed_top="-20",
                 board=history("depth = 0.4, thickness = 17.6", "depth = 0.4"))
    assert [f.numbers["side"] for f in said] == ([] if side is None else [side])
    for each in said:
        assert (each.severity, each.line, each.value) == (Severity.CAUTION, 0, thickness)
        assert each.limit == pytest.approx(17.2)


def test_facings_among_themselves_in_the_order_of_their_dates(found):
    """18.4 less 0.4 is 18; the middle one says 17.5."""
    board = history("date = 2026-03-02, depth = 0.4, thickness = 17.6",
                    "date = 2025-11-20, depth = 0.4, thickness = 18.4",
                    "date = 2026-01-10, depth = 0.4, thickness = 17.5")
    said = found("history-doubt", "G0 Z25\n", thickness="17.6", board=board)
    assert [(f.about, round(f.limit, 6)) for f in said] == [
        ("facing 2 of the history", 18.0), ("facing 3 of the history", 17.1)]


def test_a_job_of_two_stages_is_told_once(found):
    said = found("history-doubt", "G0 Z25\n", board=history("thickness = 17.6"), then="fitted = []")
    assert [f.count for f in said] == [1]


@pytest.mark.parametrize(("board", "why"), [
    (history("depth = 0.4"), "no facing of board.history gives the thickness it left")])
def test_what_cannot_be_held_against_anything_is_unchecked(judged, board, why):
    assert Unchecked("past facings", why) in judged("G0 Z25\n", board=board).unchecked


def test_no_history_no_doubt(found):
    assert found("history-doubt", "G0 Z25\n", thickness="11") == []
