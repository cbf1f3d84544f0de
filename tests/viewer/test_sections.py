"""Sections along any line: on the screen, as a table, and refused where they make no sense.

Held against the map itself, looked up place by place in plain Python.
"""

from __future__ import annotations

import csv
import math
from itertools import pairwise

import numpy as np
import pytest
from proveout.parser.units import Units
from proveout.sim.sections import section
from proveout.sim.stage_figures import Histogram
from proveout.sim.surface import Surface
from proveout.viewer.checking import Outputs, check_places
from proveout.viewer.errors import Refused
from proveout.viewer.layout import plain
from proveout.viewer.section_file import save_sections, sections_of, way_of
from proveout.viewer.section_rows import columns_of, drawn, histogram_rows, section_rows

LINES = {"along X": "10,60:590,60", "askew": "13.7,391:588.2,7.5", "bent": "-20,50:300,50:300,420"}


@pytest.mark.parametrize("said", LINES.values(), ids=LINES)
def test_the_table_is_the_map_along_the_line(demo_result, said, tmp_path):
    """Every row against the height of the cell that holds its place, and against the program's line."""
    way, result = way_of(said), demo_result
    save_sections(result, sections_of(result, [way]), tmp_path / "section.csv")
    rows = list(csv.DictReader((tmp_path / "section.csv").open()))
    ends, place = [float(row["to"]) for row in rows], [float(row["from"]) for row in rows]
    assert place[1:] == ends[:-1]  # nothing is left out
    whole = sum(math.dist(a, b) for a, b in pairwise(way))
    assert (place[0], ends[-1]) == (0, pytest.approx(whole, abs=1e-6))
    for row in rows:
        z = result.surface.at(float(row["x"]), float(row["y"]))
        assert row["z"] == ("" if math.isnan(z) else f"{z:.6f}")
    named = {(row["program"], int(row["line"])) for row in rows if row["line"]}
    assert named <= {(stage.program, int(line)) for stage, record in
                     zip(result.stages, result.records, strict=True) for line in record.reading.motion.line}
    assert any(row["program"] == "face.nc" for row in rows)


def hilly(slope: float = 0.01) -> Surface:
    """A wall of 2 mm at X 30 on a board that rises to the right, none of it left of X 5."""
    x = (np.arange(120) + 0.5) * 0.5
    heights = np.tile(np.where(x < 5, np.nan, slope * x - np.where(x > 30, 2.0, 0.0)), (10, 1))
    return Surface(0.0, 0.0, 0.5, heights.astype(np.float32), np.full((10, 120), -1, np.int32))


def test_a_column_shows_the_lowest_and_the_highest_of_its_stretch():
    surface = hilly()
    cut = section(surface, [(1.3, 2.2), (58.9, 3.1)])
    low, high = columns_of(cut, 16)
    places = np.linspace(0, 1, 20_001)[:, None] * (57.6, 0.9) + (1.3, 2.2)
    heights = np.array([surface.at(x, y) for x, y in places.tolist()])
    for column, part in enumerate(np.array_split(heights, 16)):
        seen = part[~np.isnan(part)]
        expected = (seen.min(), seen.max()) if len(seen) else (math.nan, math.nan)
        assert (low[column], high[column]) == pytest.approx(expected, abs=0.0051, nan_ok=True)


def test_the_drawing_shows_the_wall_and_leaves_the_air_empty():
    way = (0, 2.2), (60, 2.2)
    text = plain(section_rows(way, section(hilly(0.0), way), Units.MM), 80)
    head, *rows, _ = text.splitlines()
    assert head == "ALONG  X0 Y2.2 to X60 Y2.2, 60 mm long: Z -2 mm to 0 mm"
    top, bottom = rows[0][18:], rows[-1][18:]
    assert (rows[0][:18].split(), rows[-1][:18].split()) == (["0.0"], ["-2.0"])
    assert (top[:4], top[5], bottom.strip()[-1]) == ("    ", "-", "-")
    assert {row[18:].find("|") for row in rows} == {top.find("|")}  # the wall stands upright
    assert max(map(len, text.splitlines())) <= 80


def test_a_flat_section_is_one_row():
    assert len(drawn(section(hilly(0.0), [(6, 2.2), (20, 2.2)]), 1.0)) == 1


@pytest.mark.parametrize("said", ["", "0,0", "0,0:0,0", "0,0:a,1", "0,0:nan,1", "1,2,3:4,5", "0,0:1,inf"])
def test_a_line_that_is_none_is_refused_before_the_work(said):
    with pytest.raises(Refused, match="two or more places"):
        check_places(Outputs(along=(said,)))


def test_a_table_of_no_line_and_a_line_beside_the_board_are_refused(demo_result, tmp_path):
    with pytest.raises(Refused, match="along which line"):
        check_places(Outputs(sections=tmp_path / "section.csv"))
    with pytest.raises(Refused, match="does not cross the board"):
        sections_of(demo_result, [way_of("0,-50:600,-50")])


def test_a_histogram_has_a_row_for_each_height_that_is_there():
    text = plain(histogram_rows(Histogram(-1.0, 0.25, (30.0, 0.0, 10.0)), Units.MM), 80)
    assert [line.split() for line in text.splitlines()] == [
        ["-1", "to", "-0.75", "mm", "75.00%", "#" * 40], ["-0.5", "to", "-0.25", "mm", "25.00%", "#" * 13]]
