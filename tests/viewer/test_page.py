"""The page: one file that asks nobody for anything, says every finding, and treats every text as text."""

from __future__ import annotations

import json
import re
import struct
import zlib
from base64 import b64decode, b64encode
from dataclasses import replace
from hashlib import sha256
from html.parser import HTMLParser

import numpy as np
import pytest
from proveout.parser.job import Holes
from proveout.parser.source import Source
from proveout.sim.result import Verdict
from proveout.sim.stage_figures import Histogram, Level, RidgeFigures
from proveout.sim.work_figures import Hardest
from proveout.viewer.page import page_of
from proveout.viewer.page.faces import bars
from proveout.viewer.page.packing import OFF_BOARD, cut_by_of, map_of, packed
from proveout.viewer.page.plan import plans_of, thinned
from proveout.viewer.page.still import png
from proveout.viewer.page.tables import undrilled
from proveout.viewer.scene import scene_of
from proveout.viewer.terminal import NEVER, VERDICTS

HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(2)>&amp;\'</style></title>{{ 7*7 }}'
ADDRESSES = ("src", "href", "action", "data", "poster", "srcset", "formaction", "xlink:href")


class Elements(HTMLParser):
    """Every element with its attributes, every script's text, and all visible text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self.text = ""
        self.inside = ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        self.inside = tag
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside == "script":
            self.scripts[-1] += data
        elif self.inside != "style":
            self.text += data

    def all(self, tag: str, **wanted: str) -> list[dict[str, str | None]]:
        return [a for t, a in self.found if t == tag and all(a.get(k) == v for k, v in wanted.items())]


@pytest.fixture
def page(standing_result) -> Elements:
    return Elements(page_of(standing_result))


def test_it_asks_nobody_for_anything(standing_result):
    """Every address is a part of the page itself or data within it; the style sheet imports nothing."""
    text = page_of(standing_result)
    for tag, attributes in Elements(text).found:
        for name in ADDRESSES:
            address = attributes.get(name)
            assert address is None or address.startswith(("#", "data:")), (tag, name, address)
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert style
    assert "@import" not in style[1]
    assert "url(" not in style[1]


def test_only_our_scripts_may_run(page):
    """The policy names the checksum of each script, and allows no connection."""
    policy, = page.all("meta", **{"http-equiv": "Content-Security-Policy"})
    runs = [s for (t, a), s in zip([f for f in page.found if f[0] == "script"], page.scripts, strict=True)
            if a.get("type") is None]
    assert runs
    for text in runs:
        assert f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'" in (policy["content"] or "")
    assert (policy["content"] or "").startswith("default-src 'none'")
    assert "connect-src" not in (policy["content"] or "")
    assert "fetch(" not in "".join(runs)
    assert "XMLHttpRequest" not in "".join(runs)


def test_the_verdict_comes_first(result, clear_result):
    for each, word in ((result, "DO NOT RUN"), (clear_result, "NOTHING FOUND")):
        text = Elements(page_of(each)).text
        body = text[text.index("To the reasons"):]
        assert body.split()[3:3 + len(word.split())] == word.split()


@pytest.mark.parametrize("kind", list(Verdict))
def test_it_never_calls_anything_safe(result, kind):
    found = tuple(f for f in result.findings if f.severity.word == kind.value)
    each = replace(result, findings=found)
    text = Elements(page_of(each)).text
    assert VERDICTS[each.verdict] in text
    assert not re.search(r"\b(safe|safely|no danger|harmless|good to go|passed)\b", text, re.IGNORECASE)
    assert "manual" in text
    assert "in the air" in text


def test_every_finding_is_there_worst_first(result, page):
    units = result.job.units
    places = [page.text.index(f.message(units)) for f in result.findings]
    assert places == sorted(places)
    assert all(f.advice(units) in page.text for f in result.findings)
    ids = [a["id"] for t, a in page.found if t == "li" and (a.get("id") or "").startswith("finding-")]
    assert ids == [f"finding-{n}" for n in range(1, len(result.findings) + 1)]


def test_a_finding_with_a_place_leads_there(page):
    """Two of three findings have a place; the worst one is linked from the head of the page, too."""
    links = [a for t, a in page.found if t == "a" and a.get("class") == "fly"]
    worst, other = "20.0000,10.0000,-4.0000", "30.0000,10.0000,-4.0000"
    assert [a["data-at"] for a in links] == [worst, worst, other]


def test_every_link_within_the_page_has_its_goal(page):
    goals = {a["id"] for _, a in page.found if a.get("id")}
    links = {(a.get("href") or "")[1:] for t, a in page.found if t == "a"}
    assert links <= goals


def test_the_program_is_shown_about_the_line_with_a_caret(result):
    """Lines 5 to 9 of the fixture's program stand about line 8; columns 1 to 3 are pointed at."""
    text = page_of(result)
    block = text[text.index('id="finding-1"'):text.index('id="finding-2"')]
    for line in ("G0 X-26 Y10", "M0 (CLAMP OFF)", "G1 Z-4. F500", "G1 X126 F2000", "M30"):
        assert line in block
    assert '<span class="line here"><i>8</i>G1 X126 F2000</span>' in block
    assert '<i></i>^^</span>' in block


def test_hostile_texts_stay_texts(result):
    """Names, comments and paths that hold markup add not one element to the page."""
    plain = Elements(page_of(result))
    job, source = result.job, Source(HOSTILE, f"%\n({HOSTILE})\n".encode() + b"G1 X1\n" * 7)
    stage = replace(job.stages[0], name=HOSTILE, program=HOSTILE)
    made = replace(job, title=HOSTILE, stages=(stage,), inputs=(replace(job.inputs[0], file=HOSTILE),))
    record = replace(result.records[0], reading=replace(result.records[0].reading, source=source))
    found = tuple(replace(f, about=HOSTILE, stage=HOSTILE, program=HOSTILE, line=min(f.line, 3))
                  for f in result.findings)
    figures = replace(result.stages[0], name=HOSTILE, program=HOSTILE, clearances=tuple(
        replace(gap, about=HOSTILE) for gap in result.stages[0].clearances[:1]))
    made = replace(result, job=made, findings=found, stages=(figures,), records=(record,))
    hostile = Elements(page_of(made))
    assert hostile.text.count(HOSTILE) > 8
    assert {tag for tag, _ in hostile.found} <= {tag for tag, _ in plain.found}
    assert len(hostile.scripts) == len(plain.scripts)
    assert not [a for _, a in hostile.found if any(name.startswith("on") for name in a)]


def test_tables_hold_every_screw_hole_input_and_what_was_not_checked(result, page):
    for about in ("edge screws 1", "edge screws 2", "edge screws 4", "front left"):
        assert about in page.text
    assert "1.1 mm too low" in page.text
    assert page.text.count("not wanted") == 1
    assert all(each.what in page.text and each.why in page.text for each in result.unchecked)
    assert NEVER in page.text
    assert all(each.sha256 in page.text for each in result.inputs)


def test_a_wanted_hole_that_was_not_drilled_is_in_the_table(result):
    """A clearance hole and its counterbore are wanted at one place; only the wide one is there."""
    wanted = Holes(at=((20.0, 20.0),), diameter=6.6), Holes(at=((20.0, 20.0), (60.0, 60.0)), diameter=13.0)
    job = replace(result.job, stages=(replace(result.job.stages[0], holes=wanted),))
    drilled = replace(result.stages[0].holes[0], diameter=13.0)
    made = replace(result, job=job, stages=(replace(result.stages[0], holes=(drilled,)),))
    assert undrilled(made, made.stages[0]) == [(20.0, 20.0, 6.6), (60.0, 60.0, 13.0)]
    assert Elements(page_of(made)).text.count("missing") == 2


def test_a_face_is_told_in_figures_and_bars(result):
    """Three heights, 100, 0 and 2500 mm²: the third bar is five times as high as the first."""
    figures = result.stages[0]
    face = replace(figures.face, band=0.3, histogram=Histogram(-0.5, 0.25, (100.0, 0.0, 2500.0)),
                   levels=(Level(-0.4, 5000.0),), ridge=RidgeFigures(0.012, 20.0, 90.0, (5, 7)))
    made = replace(result, stages=(replace(figures, face=face, hardest=(
        Hardest("rate", 5e4, 8, (20.0, 10.0)), Hardest("something_new", 1.5, 8, (20.0, 10.0)))),))
    shown = bars(face.histogram, result.job.units)
    assert [bar[3] for bar in shown["bars"]] == pytest.approx([30.0, 0.0, 150.0])
    assert [bar[1] + bar[3] for bar in shown["bars"]] == pytest.approx([150.0] * 3)
    assert shown["bars"][2][4] == "Z0 to Z0.25: 2500 mm²"
    text = Elements(page_of(made)).text
    for words in ("95% of it lies within0.3 mm", "at Z-0.45000 mm²", "50000 mm³ a minute", "something new",
                  "0.012 mm between the passes of lines 5 and 7"):
        assert words in text, words


def test_facings_left_over_each_screw(page):
    """Cover 2.5, 1 of it kept, 0.4 a facing: floor(1.5 / 0.4) = 3; the struck one leaves none."""
    rows = re.findall(r"edge screws (\d)\s*row.*?(\d+)\s*(?=edge|Clamp|\Z)", re.sub(r"\s+", " ", page.text))
    assert re.search(r"edge screws 1row 1, place 11\.1 mm too lowface\.nc 8-1\.1 mm0", page.text), rows
    assert re.search(r"edge screws 4row 2, place 217\.6 mm freeface\.nc 82\.5 mm3", page.text), rows


def test_the_plan_is_true_to_scale(page):
    """Screw heads of 10.5 mm at their places, in the same millimetres as the board; Y downward."""
    heads = [a for t, a in page.found if t == "circle" and (a.get("class") or "").startswith("head")]
    assert {(a["cx"], a["cy"], a["r"]) for a in heads} == {
        (str(float(x)), str(float(-y)), "5.25") for x in (20, 80) for y in (20, 60)}
    assert [a for t, a in page.found if t == "path" and (a.get("class") or "").startswith("clamp")]
    assert "off at stop 1" in page.text
    assert "17.6 mm free" in page.text


def test_of_many_screws_each_gap_is_written_once_and_every_struck_one():
    heads = [{"text": f"{gap} mm free", "struck": False} for gap in (2, 2, 3)] + [
        {"text": "1 mm too low", "struck": True}] * 2
    assert thinned([dict(each) for each in heads]) == heads
    many = [dict(each) for each in heads] + [{"text": "2 mm free", "struck": False} for _ in range(60)]
    assert [each["text"] for each in thinned(many) if each["text"]] == [
        "2 mm free", "3 mm free", "1 mm too low", "1 mm too low"]


def test_the_plan_shows_how_far_the_board_is_from_what_holds_it(demo_result):
    """A line of equal distance runs along the board only, where the distance is right; the farthest place is
    the stage's own."""
    held = plans_of(demo_result, scene_of(demo_result))[1]["held"]
    solids = demo_result.records[1].solids[0]
    assert [line["text"] for line in held["lines"]] == ["50 mm", "100 mm", "150 mm"]
    for line, distance in zip(held["lines"], (50, 100, 150), strict=True):
        for x, y in re.findall(r"[ML]([-\d.e]+) ([-\d.e]+)", line["d"]):
            away = min(float(head.footprint.away(float(x), -float(y))) for head in solids.heads)
            assert away == pytest.approx(distance, abs=0.1)  # of a circle drawn as a polygon
    figures = demo_result.stages[1].held
    assert (held["x"], held["y"]) == (figures.at[0], -figures.at[1])


def test_inches_are_shown_to_a_job_in_inches(inch_result):
    text = Elements(page_of(inch_result)).text
    assert "0.0433 in too low" in text
    assert " mm " not in text


def test_the_still_picture_is_a_readable_png():
    """Decoded by hand: each row is its difference from the row above (RFC 2083, filter 2)."""
    image = np.random.default_rng(5).integers(0, 256, (7, 5, 3), dtype=np.uint8)
    data, chunks, at = png(image), {}, 8
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at:at + 8])
        chunks[kind] = data[at + 8:at + 8 + size]
        assert struct.unpack(">I", data[at + 8 + size:at + 12 + size])[0] == zlib.crc32(kind + chunks[kind])
        at += 12 + size
    rows = np.frombuffer(zlib.decompress(chunks[b"IDAT"]), np.uint8).reshape(7, 16)
    assert (rows[:, 0] == 2).all()
    assert np.array_equal(np.cumsum(rows[:, 1:], axis=0, dtype=np.uint8).reshape(7, 5, 3), image)
    assert b64decode(b64encode(data)) == data


def model_in(text: str) -> dict:
    """The data for the scripts, as a browser would read it."""
    page = Elements(text)
    return next(json.loads(s) for (t, a), s in zip([f for f in page.found if f[0] == "script"], page.scripts,
                                                   strict=True) if a.get("id") == "model")


def heights_of(found: dict, whole: np.ndarray) -> np.ndarray:
    """Whole numbers as heights: each from the last step that begins at or below it."""
    first, z, quantum = (np.array(column) for column in zip(*found["steps"], strict=True))
    which = np.searchsorted(first, whole, "right") - 1
    return z[which] + (whole - first[which]) * quantum[which]


def numbers_in(text: str, kind: str) -> np.ndarray:
    """A list of numbers whose bytes stand apart."""
    planes, size = np.frombuffer(zlib.decompress(b64decode(text)), np.uint8), np.dtype(kind).itemsize
    return planes.reshape(size, -1).T.copy().view(kind)[:, 0]


def unpacked_of(found: dict, layer: str, size: int) -> np.ndarray:
    """A layer of the board's own grid."""
    grid = found["grids"][0]
    return unpacked(grid[layer], grid["nx"], grid["ny"], size)


def unpacked(text: str, nx: int, ny: int, size: int) -> np.ndarray:
    """What the page's script does, written anew: bytes apart, row differences summed up."""
    planes = np.frombuffer(zlib.decompress(b64decode(text)), np.uint8).reshape(size, ny, nx).astype(np.uint64)
    differences = sum(planes[n] << np.uint64(8 * n) for n in range(size))
    return np.cumsum(differences, axis=0) % 256**size


def test_a_sheet_has_no_bars_of_signs(result):
    """The area by height is drawn as a picture of its own; the sheet's facts are words."""
    face = replace(result.stages[0].face, histogram=Histogram(-4.0, 1.0, (2000.0, 0.0, 5000.0)))
    made = page_of(replace(result, stages=(replace(result.stages[0], face=face),)))
    assert "###" not in made
    assert 'class="bars"' in made


def test_embedded_heights_are_the_surface_within_half_a_quantum(result):
    surface = result.surface
    surface.heights[:] += np.random.default_rng(1).normal(0, 0.02, surface.shape).astype(np.float32)
    surface.heights[30:40, 40:60] = np.nan
    found = model_in(page_of(result))["map"]
    whole = unpacked_of(found, "heights", 2)
    heights = heights_of(found, whole)
    off = np.isnan(surface.heights)
    assert np.array_equal(whole == OFF_BOARD, off)
    assert np.abs(heights - surface.heights)[~off].max() <= 0.5e-4 + 1e-6
    grid, = found["grids"]
    assert (grid["x0"], grid["y0"], grid["cell"]) == (0.0, 0.0, 1.0)


def test_holes_through_the_board_take_no_fineness_from_the_face(result):
    """A face at -0.4 known to half of 1e-4 mm while holes go 40 mm down and a rim stands 9 mm up."""
    surface, random = result.surface, np.random.default_rng(4)
    surface.heights[:] = -0.4 + random.normal(0, 0.3, surface.shape)
    surface.heights[:5] = random.uniform(-40, -20, surface.heights[:5].shape)
    surface.heights[-5:] = random.uniform(4, 9, surface.heights[-5:].shape)
    found = model_in(page_of(result))["map"]
    away = np.abs(heights_of(found, unpacked_of(found, "heights", 2)) - surface.heights)
    assert away[5:-5].max() <= 0.5e-4 + 1e-6
    assert away.max() <= 2e-3


def test_embedded_distances_are_the_scenes(result):
    """The wanted height of each cell, subtracted from its height, is the scene's distance."""
    found, off = model_in(page_of(result))["map"], scene_of(result).relief.off
    number = unpacked_of(found, "wanted", 1)
    assert np.array_equal(number == 0, np.isnan(off))
    assert found["levels"] == [-0.4]
    assert np.allclose(off[number == 1], result.surface.heights[number == 1] + 0.4, atol=1e-6)


def test_every_cell_names_the_line_that_cut_it_last(result):
    """The fixture's cells were cut last by move 2, which is line 8 of its only stage."""
    result.surface.last[5, 6] = -1
    found = model_in(page_of(result))["map"]
    rows = unpacked_of(found, "last", 3)
    lines, stages = (numbers_in(found[name], "<i4")[rows] for name in ("line", "stage"))
    assert lines[5, 6] == 0
    assert stages[5, 6] == -1
    assert (np.delete(lines, 5, axis=0) == 8).all()
    assert (np.delete(stages, 5, axis=0) == 0).all()


def test_a_map_that_is_too_large_keeps_its_ridges(result, monkeypatch):
    """Blocks of 4 x 4 cells, each with its extreme: a ridge of one cell is in every block that it crosses.
    About each finding (two have a place here, 10 mm apart, so one window holds both) every cell is there."""
    monkeypatch.setattr("proveout.viewer.page.packing.MOST_CELLS", 600)
    monkeypatch.setattr("proveout.viewer.page.packing.WINDOW", 44)
    result.surface.heights[:] = -0.4
    result.surface.heights[33] = -0.1
    found = map_of(result, scene_of(result).relief)
    grid, window = found["grids"]
    assert (found["side"], grid["nx"], grid["ny"], grid["cell"]) == (4, 25, 20, 4.0)
    heights = heights_of(found, unpacked_of(found, "heights", 2))
    assert np.allclose(heights[33 // 4], -0.1, atol=1e-4)
    assert [window[name] for name in ("nx", "ny", "x0", "y0", "cell")] == [44, 44, 0.0, 0.0, 1.0]
    heights = heights_of(found, unpacked(window["heights"], 44, 44, 2))
    assert np.abs(heights - result.surface.heights[:44, :44]).max() <= 1e-4
    assert "4 x 4 of its cells are shown as one" in page_of(result)


@pytest.mark.parametrize("size", [1, 2, 3])
def test_packing_loses_nothing(size):
    values = np.random.default_rng(size).integers(0, 256**size, (13, 9), dtype=np.uint32)
    assert np.array_equal(unpacked(packed(values, size), 9, 13, size), values)


def test_a_result_without_its_records_is_shown_too(result):
    bare = replace(result, records=())
    assert set(cut_by_of(bare).stage) == {-1}
    assert "edge screws 1" in page_of(bare)


def test_the_page_lays_out_the_scenes_layers(standing_result):
    """Heads, clamps, marks and zero as the scene has them; each body with the moves during which it stands.
    The fixture's clamp goes at its second phase, before move 2."""
    record = replace(standing_result.records[0], since=(0, 2))
    result = replace(standing_result, records=(record,))
    found, scene = model_in(page_of(result)), scene_of(result)
    assert [(h["x"], h["y"], h["r"]) for h in found["heads"]] == [
        (*h.at, h.radius) for h in scene.bodies.heads]
    assert [c["outline"] for c in found["clamps"]] == [c.outline.tolist() for c in scene.bodies.clamps]
    assert [tuple(m["at"]) for m in found["marks"]] == [mark.at for mark in scene.marks]
    assert tuple(found["zero"]) == scene.zero
    moves = len(record.reading.motion)
    assert [c["when"] for c in found["clamps"]] == [[[0, 0, 2]]]
    assert all(h["when"] == [[0, 0, 2], [0, 2, moves]] for h in found["heads"])
