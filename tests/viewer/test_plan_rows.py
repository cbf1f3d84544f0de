"""The plan in characters: each sign where its thing is, within a character."""

from __future__ import annotations

import re

from proveout.viewer.layout import plain
from proveout.viewer.plan_rows import Sheet, drawing, marked, plan_rows


def test_each_reason_stands_where_it_was_found(demo_result):
    """The place of a digit, in characters from the frame's corner, against the place on the board."""
    marks, drawn = marked(demo_result), drawing(demo_result, marked(demo_result))
    sheet = Sheet(demo_result)
    seen = 0
    for number, found in enumerate(marks, 1):
        for row, line in enumerate(drawn):
            for column in (m.start() for m in re.finditer(str(number), line)):
                x = sheet.x0 + (column + 0.5) / sheet.wide * sheet.width
                y = sheet.y1 - (row + 0.5) / sheet.high * sheet.height
                assert abs(x - found.at[0]) <= sheet.width / sheet.wide / 2 + 1e-9
                assert abs(y - found.at[1]) <= sheet.height / sheet.high / 2 + 1e-9
                seen += 1
    assert seen >= 4  # reasons at one place show the worst alone


def test_six_screws_are_drawn_unless_a_reason_covers_them(demo_result):
    assert "".join(drawing(demo_result, [])).count("o") == 6


def test_the_plan_fits_and_names_each_reason(demo_result):
    text = plain(plan_rows(demo_result), 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "1 face.nc 119: head-strike" in text
    assert "o screw, # clamp, . hole" in text


def test_without_a_reason_there_is_no_plan(clear_result):
    assert not [*plan_rows(clear_result)]
