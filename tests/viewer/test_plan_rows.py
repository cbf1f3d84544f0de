"""The plan in characters: each sign where its thing is, within a character."""

from __future__ import annotations

import re

from proveout.viewer.layout import plain
from proveout.viewer.plan_rows import Sheet, drawing, marked, plan_rows


def test_each_reason_stands_where_it_was_found(demo_result):
    """The place of a digit, in characters from the frame's corner, against the place on the board."""
    marks = marked(demo_result, demo_result.findings)
    drawn, sheet, seen = drawing(demo_result, marks), Sheet(demo_result), 0
    for number, found in marks:
        for row, line in enumerate(drawn):
            for column in (m.start() for m in re.finditer(number, line)):
                x = sheet.x0 + (column + 0.5) / sheet.wide * sheet.width
                y = sheet.y1 - (row + 0.5) / sheet.high * sheet.height
                assert abs(x - found.at[0]) <= sheet.width / sheet.wide / 2 + 1e-9
                assert abs(y - found.at[1]) <= sheet.height / sheet.high / 2 + 1e-9
                seen += 1
    assert seen >= 4  # reasons at one place show the worst alone


def test_six_screws_are_drawn_unless_a_reason_covers_them(demo_result):
    assert "".join(drawing(demo_result, [])).count("o") == 6


def test_the_plan_fits_and_stands_beside_the_reasons(demo_result):
    """Each reason in a line, by the sign that it has on the plan; one without a place has none."""
    reasons = [(found, f"reason {found.line}") for found in demo_result.findings]
    lines = plain(plan_rows(demo_result, reasons), 80).splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) == 8
    assert lines[0].startswith("ALL")
    assert lines[0].endswith("1 reason 119")
    assert lines[6].endswith("- reason 0")
    assert "o screw, # clamp, . hole" in lines[7]


def test_without_a_reason_there_is_no_plan(clear_result):
    assert not [*plan_rows(clear_result, [])]
