"""The page in a real browser: headless Chromium with the network off. Left out where there is none.

What is read off is held against the simulation's own arrays; contrast against WCAG 2.1, 1.4.3.
"""

from __future__ import annotations

import base64
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from proveout.parser.jobfile import read_job
from proveout.parser.source import Source
from proveout.sim.cut import cut_stage
from proveout.sim.replay import Replay
from proveout.sim.verify import verify
from proveout.viewer.page import page_of
from proveout.viewer.page.document import SCRIPTS
from proveout.viewer.page.packing import OFF_BOARD

from .browser import Browser, chromium
from .test_page import HOSTILE, heights_of

pytestmark = pytest.mark.skipif(chromium() is None, reason="no chromium on this machine")
QUIET = "new Promise((done) => setTimeout(done, 250))"

CUTTERS = {
    1: 'shape = "facing"\ndiameter = 12\ncore = 6\ncorner = { radius = 0.5 }',
    2: 'shape = "ball"\ndiameter = 6',
    3: 'shape = "bull"\ndiameter = 8\ncorner = { radius = 1.5 }',
    4: 'shape = "cone"\ndiameter = 8\ntip = 1\nangle = 60',
    5: 'shape = "drill"\ndiameter = 5',
    6: 'shape = "profile"\ndiameter = 9\nprofile = [[0, 1], [2, 0], [3, 0.5], [4.5, 3]]',
    7: 'shape = "flat"\ndiameter = 7\ncorner = { chamfer = 1 }',
    8: 'shape = "flat"\ndiameter = 5',
    9: 'shape = "facing"\ndiameter = 10\ncore = 5',
}
PROGRAM = """G21 G90 G17 G94
M3 S10000
{cutting}
M0
G0 X0 Y0
M5
M30
"""
CUTTING = """T{t} M6
G0 Z10
G0 X{x} Y8
G1 Z-1 F500
G1 X{x1} Y24 Z-1.6
G1 Y40
G2 X{x1} Y28 I0 J-6
G3 X{x1} Y28 I3 J0
G3 X{x1} Y28 Z-2.2 I2 J0
G18 G2 X{x} Z-2.2 I-2.5 K0.6
G17 G1 X{x} Y10.3 Z-1.1
G1 X{x} Y10.3 Z-3
G0 X{x1} Z-2.9
G0 Z10"""


def job_text() -> str:
    cutters = "".join(f"[[cutters]]\nnumber = {n}\nedges = 2\n{rest}\n" for n, rest in CUTTERS.items())
    return ('[board]\nmaterial = "MDF"\nx = [0, 70]\ny = [0, 50]\nthickness = 18\ncell = 0.5\n' + cutters
            + "".join(f'[[stages]]\nname = "{name}"\nprogram = "{name}.nc"\nstart = [0, 0, 20]\n'
                      for name in ("odd", "even")))


@pytest.fixture(scope="module")
def every_cutter(tmp_path_factory):
    """Every shape of cutter over every kind of path, in two stages."""
    folder = tmp_path_factory.mktemp("every")
    (folder / "job.toml").write_text(job_text())
    for name, tools in (("odd", (1, 3, 5, 7, 9)), ("even", (2, 4, 6, 8))):
        cutting = [CUTTING.format(t=t, x=6 + 6 * t, x1=9 + 6 * t) for t in tools]
        (folder / f"{name}.nc").write_text(PROGRAM.format(cutting="\n".join(cutting)))
    return verify(read_job(folder / "job.toml"))


@pytest.fixture(scope="module")
def browser():
    made = Browser()
    made.ask("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0,
             uploadThroughput=0)
    yield made
    made.close()


@pytest.fixture
def opened(browser, tmp_path):
    """Open a result's page; the events of earlier pages are forgotten."""
    def act(result, width=1200, height=900, *, dark=False):
        path = tmp_path / "page.html"
        path.write_text(page_of(result), encoding="utf-8")
        browser.events.clear()
        browser.open(path, width, height, dark=dark)
        return path
    return act


def test_the_only_request_is_the_file(browser, opened, standing_result):
    path = opened(standing_result)
    assert {url for url in browser.requests() if not url.startswith("data:")} == {path.as_uri()}
    assert browser.complaints() == []


def test_a_known_place_is_read_out_within_a_cell(browser, opened, standing_result):
    """Cell (50.5, 30.5) of the fixture: -0.4, its move is line 8."""
    opened(standing_result)
    surface = standing_result.surface
    x, y, z = surface.x[50], surface.y[30], surface.heights[30, 50]
    px, py = browser.run(f"""(() => {{
      camera.target = [{x}, {y}, lift({z})]; camera.distance = 60; view.look();
      const b = document.getElementById('stage').getBoundingClientRect();
      const p = camera.project({x}, {y}, lift({z}), b.width, b.height);
      return [p[0] + b.left, p[1] + b.top]; }})()""")
    browser.mouse("mouseMoved", px, py)
    browser.run(QUIET)
    told = browser.run("document.getElementById('readout').textContent")
    found = [float(told.split(letter)[1].split()[0]) for letter in "XYZ"]
    assert np.allclose(found, (x, y, z), atol=(surface.cell, surface.cell, 1e-3)), told
    assert "face.nc 8" in told


def test_a_reasons_link_brings_its_place_to_the_middle(browser, opened, standing_result):
    """The worst reason is at X20 Y10, where the fixture's board is far too deep: orange, not blue."""
    opened(standing_result)
    browser.run("document.getElementById('above').click()")
    browser.run("document.querySelector('.finding a.fly').click()")
    browser.run("new Promise((done) => setTimeout(done, 700))")
    x, y = browser.run("camera.target.slice(0, 2)")
    assert (x, y) == pytest.approx((20, 10), abs=0.1)
    red, _, blue, _ = browser.run("""(() => {
      surface.draw(false); const gl = surface.gl, p = new Uint8Array(4);
      gl.readPixels(surface.canvas.width / 2, surface.canvas.height / 2, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, p);
      return [...p]; })()""")
    assert red > blue + 60


def test_a_number_on_its_pole_leads_to_its_reason(browser, opened, standing_result):
    opened(standing_result)
    px, py = browser.run("""(() => {
      const b = document.getElementById('stage').getBoundingClientRect();
      const flag = overlay.flags.find((f) => f[2] === 2);
      return [flag[0] + b.left, flag[1] + b.top]; })()""")
    for kind in ("mousePressed", "mouseReleased"):
        browser.mouse(kind, px, py, button="left", clickCount=1)
    assert browser.run("document.querySelector('.finding.chosen').id") == "finding-2"
    assert browser.run("document.querySelector('.finding.chosen details').open")


def test_a_map_too_large_is_whole_about_each_reason(browser, opened, standing_result, monkeypatch):
    """Cells of 1 mm shown as blocks of 4; within the window about the reason at X20 Y10 each is read off."""
    monkeypatch.setattr("proveout.viewer.page.packing.MOST_CELLS", 600)
    monkeypatch.setattr("proveout.viewer.page.packing.WINDOW", 24)
    surface = standing_result.surface
    surface.heights[:] = -0.4
    surface.heights[9:13, 12:28] += np.random.default_rng(2).normal(0, 0.1, (4, 16)).astype(np.float32)
    opened(standing_result)
    read = browser.run("[9, 10, 11, 12].map((j) => Array.from({ length: 16 }, (_, i) => "
                       "board.at(12.5 + i, j + 0.5).z))")
    assert np.allclose(read, surface.heights[9:13, 12:28], atol=1e-4)
    assert browser.run("board.whole.cell") == 4
    assert browser.complaints() == []


def test_a_section_is_dragged_by_its_line_or_its_end(browser, opened, standing_result):
    opened(standing_result)
    line = "section.set({ x: 20, y: 0 }, { x: 20, y: 80 });"
    drag = "section.begin({ x: %s, y: %s }); section.reach({ x: %s, y: %s }); [section.a, section.b]"
    a, b = browser.run(line + drag % (20.5, 40, 50.5, 40))
    assert (a, b) == ({"x": 50, "y": 0}, {"x": 50, "y": 80})
    a, b = browser.run(line + drag % (20, 79, 60, 70))
    assert (a, b) == ({"x": 20, "y": 0}, {"x": 60, "y": 70})
    a, b = browser.run(line + drag % (40, 20, 90, 60))
    assert (a, b) == ({"x": 40, "y": 20}, {"x": 90, "y": 60})
    z = browser.run("section.points.map((p) => p.z)")
    expected = [standing_result.surface.heights[int(p["y"]), int(p["x"])]
                for p in browser.run("section.points.map((p) => ({ x: p.x, y: p.y }))")]
    assert np.allclose(z, expected, atol=1e-4)


HEIGHTS = """(async () => {
  await replay.load();
  await player.goTo(%d ? replay.moves[%d - 1].ends : 0);
  const bytes = new Uint8Array(board.whole.h.buffer);
  let text = '';
  for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
  return [replay.k, btoa(text), steps]; })()"""


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (2e-3, -1e-3)])
def test_the_scrubbed_board_is_the_simulations(browser, opened, every_cutter, tilt):
    """At ten moments, in no order: the same moves cut by `cut_stage`, within a quantum everywhere but at
    cells whose centre lies on a footprint's edge (which may hold either neighbour's value, as in the map)."""
    result = replace(every_cutter, records=tuple(replace(r, tilt=tilt) for r in every_cutter.records))
    opened(result)
    moves = sum(len(record.reading.motion) for record in result.records)
    for stop in np.random.default_rng(3).permutation(np.linspace(0, moves - 1, 10).astype(int)).tolist():
        done, text, steps = browser.run(HEIGHTS % (stop, stop))
        assert done in (stop, stop + 1)  # a move that takes no time is over at once
        shown = np.frombuffer(base64.b64decode(text), np.uint16).reshape(result.surface.shape)
        wrong = np.abs(heights_of({"steps": steps}, shown) - cut_up_to(result, done)) > 1.01e-4
        assert wrong.mean() < 2e-4, (stop, np.argwhere(wrong)[:5])


SWAPPED = """[board]
material = "MDF"
thickness = 18
cell = 0.5
parts = [{ name = "front", x = [0, 60], y = [0, 20] }, { name = "back", x = [0, 60], y = [22, 40] }]
[[cutters]]
number = 1
shape = "flat"
diameter = 8
edges = 2
"""
ACROSS = "G21 G90\nT1 M6\nM3 S9000\nG0 Z5\nG0 X-6 Y5\nG1 Z-1 F500\nG1 X70 Y35\nG1 Z5\nM5\nM30\n"


def test_parts_that_are_swapped_are_scrubbed_as_they_lie(browser, opened, tmp_path):
    """Each stage cuts only the part that is on the machine: the board in the middle of either stage, forward
    and back, as the simulation's own replay has it."""
    stages = "".join(f'[[stages]]\nname = "{part}"\nprogram = "across.nc"\nparts = ["{part}"]\n'
                     "start = [0, 0, 20]\n" for part in ("front", "back"))
    (tmp_path / "job.toml").write_text(SWAPPED + stages)
    (tmp_path / "across.nc").write_text(ACROSS)
    result = verify(read_job(tmp_path / "job.toml"))
    opened(result)
    moves = len(result.records[0].reading.motion)
    for stop in (moves + 4, 4, moves + 4, moves - 1):
        done, text, steps = browser.run(HEIGHTS % (stop, stop))
        assert done == stop
        own = Replay.of(result, stop // moves)
        own.to(stop % moves)
        shown = np.frombuffer(base64.b64decode(text), np.uint16).reshape(result.surface.shape)
        off = np.isnan(own.surface.heights)
        assert np.array_equal(shown == OFF_BOARD, off)
        assert np.abs(heights_of({"steps": steps}, shown) - own.surface.heights)[~off].max() < 1.01e-4


def test_a_program_too_long_to_be_cut_again_shows_the_passing(browser, opened, every_cutter, monkeypatch):
    """Runs of moves: a cell is as in the end once the run is through in which its line moves for the last
    time, else as the first stage found it; brute force over the cells."""
    monkeypatch.setattr("proveout.viewer.page.replay.MOST_SWEEPS", 10)
    monkeypatch.setattr("proveout.viewer.page.passing.MOST_RUNS", 60)
    result = every_cutter
    opened(result)
    moves = [len(record.reading.motion) for record in result.records]
    side = -(-sum(moves) // 60)
    final, last = result.surface.heights, result.surface.last
    when, runs = np.full(sum(moves), -1), 0
    for number, record in enumerate(result.records):
        lines = record.reading.motion.line
        for move, line in enumerate(lines):
            again = np.flatnonzero(lines == line).max()
            when[sum(moves[:number]) + move] = runs + again // side
        runs += -(-moves[number] // side)
    assert browser.run("replay.load().then(() => replay.n)") == runs
    for stop in (runs - 2, 3, runs // 2, 1):
        done, text, steps = browser.run(HEIGHTS % (stop, stop))
        there = (last < 0) | (when[last] < done)
        expected = np.where(there, final, result.records[0].cut.before)
        shown = np.frombuffer(base64.b64decode(text), np.uint16).reshape(final.shape)
        assert np.abs(heights_of({"steps": steps}, shown) - expected).max() < 1.01e-4
    assert "last pass over it" in browser.run("document.getElementById('view').textContent")
    assert browser.complaints() == []


def cut_up_to(result, stop: int) -> np.ndarray:
    """The board after the first `stop` moves of all stages, cut anew."""
    heights = result.records[0].cut.before.copy()
    surface = replace(result.surface, heights=heights, last=np.full(heights.shape, -1, np.int32))
    for record in result.records:
        motion = record.reading.motion
        start = motion.start.copy()
        start[max(0, stop):] = np.nan  # a move of no known place is left out
        cut_stage(surface, replace(motion, start=start), list(record.cutters), rapid=record.rapid,
                  tilt=record.tilt)
        stop -= len(motion)
    return surface.heights


def test_a_move_half_done_cuts_what_its_half_covers(browser, opened, every_cutter):
    """No cell is lower after half a move than after the whole of it."""
    opened(every_cutter)
    wrong = browser.run("""(async () => {
      await replay.load();
      const found = [];
      for (let m = 0; m < replay.n; m += 3) {
        const { ends, seconds } = replay.moves[m];
        if (seconds < 1e-3) continue;
        await player.goTo(ends + 1e-4); const whole = board.whole.h.slice();
        await player.goTo(ends - seconds / 2); const half = board.whole.h.slice();
        if (half.some((h, n) => h < whole[n] - 1)) found.push(m);
      }
      return found; })()""")
    assert wrong == []


def test_stepping_goes_from_move_to_move_and_back(browser, opened, every_cutter):
    opened(every_cutter)
    steps = browser.run("""(async () => {
      await player.goTo(0); const seen = [];
      for (const by of [1, 1, 1, -1, -1, 1]) {
        await player.step(by); seen.push(replay.k + (replay.part > 0.5 ? 1 : 0)); }
      return seen; })()""")
    assert [b - a for a, b in pairwise(steps)] == [1, 1, -1, -1, 1]


def test_playing_waits_where_the_machine_waits(browser, opened, every_cutter):
    opened(every_cutter)
    browser.run("(async () => { await replay.load(); await player.goTo(replay.stops[0] - 0.5);"
                "await player.toggle(); })()")
    browser.until("!player.playing && replay.k > 0 && !replay.busy")
    assert browser.run("player.time === replay.stops[0]")
    assert "M0" in browser.run("document.getElementById('lines').textContent")


TAB_STOPS = """[...document.querySelectorAll('a[href], button, input, select, summary, [tabindex="0"]')]
  .filter((e) => e.tabIndex >= 0 && !e.closest('[hidden]') && e.checkVisibility()
    && !(e.type === 'radio' && !e.checked))"""


def test_the_keyboard_alone_reaches_everything(browser, opened, standing_result):
    opened(standing_result)
    wanted = browser.run(f"{TAB_STOPS}.length")
    browser.run("document.activeElement.blur(); window.seen = new Set()")
    for _ in range(wanted + 3):
        browser.key("Tab", code="Tab", windowsVirtualKeyCode=9)
        browser.run("seen.add(document.activeElement)")
    missed = browser.run(f"{TAB_STOPS}.filter((e) => !seen.has(e)).map((e) => e.outerHTML.slice(0, 90))")
    assert missed == []


def test_keys_turn_play_and_step(browser, opened, every_cutter):
    opened(every_cutter)
    browser.run("document.getElementById('stage').focus()")
    browser.key("+")
    browser.key(",")
    browser.until("player.now !== null && player.now !== undefined && !replay.busy")
    assert browser.run("replay.k") < browser.run("replay.n")
    browser.key(" ")
    assert browser.run("player.playing")
    browser.key(" ")
    browser.until("!player.playing")


# WCAG 2.1, relative luminance and contrast ratio: https://www.w3.org/TR/WCAG21/#dfn-contrast-ratio
CONTRAST = """(() => {
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const linear = (v) => (v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  const light = ([r, g, b]) => 0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
  const behind = (e) => {
    for (; e; e = e.parentElement) {
      const c = rgb(getComputedStyle(e).backgroundColor);
      if (c.length < 4 || c[3] > 0) return c;
    }
    return [255, 255, 255]; };
  const poor = [];
  for (const e of document.querySelectorAll('body *:not(svg *):not(script):not(option)')) {
    if (!e.checkVisibility() || ![...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())) continue;
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(behind(e))];
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) poor.push([e.tagName, e.className, e.textContent.slice(0, 30), ratio]);
  }
  return poor; })()"""


@pytest.mark.parametrize("dark", [False, True])
def test_every_text_stands_out_from_what_is_behind_it(browser, opened, standing_result, dark):
    opened(standing_result, dark=dark)
    assert browser.run(CONTRAST) == []


def test_everything_that_can_be_used_has_a_name(browser, opened, standing_result):
    """Each by the browser's own computation of accessible names."""
    opened(standing_result)
    nodes = browser.ask("Accessibility.getFullAXTree")["nodes"]
    roles = {"button", "link", "slider", "checkbox", "radio", "combobox", "textbox", "spinbutton", "tab",
             "application", "img", "image"}
    nameless = [n for n in nodes if not n.get("ignored") and n.get("role", {}).get("value") in roles
                and not n.get("name", {}).get("value")]
    assert nameless == []


def test_headings_skip_no_level_and_no_name_is_given_twice(browser, opened, standing_result):
    opened(standing_result)
    levels = browser.run("[...document.querySelectorAll('h1, h2, h3, h4')].filter((h) => h.checkVisibility())"
                         ".map((h) => Number(h.tagName[1]))")
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert browser.run("(() => { const ids = [...document.querySelectorAll('[id]')].map((e) => e.id);"
                       "return ids.filter((id, n) => ids.indexOf(id) !== n); })()") == []


def test_the_whole_board_is_in_view_whatever_shape_the_view_takes(browser, opened, standing_result):
    opened(standing_result)
    corners = ("[0, 1, 2, 3].map((k) => camera.project(board.x0 + (k & 1) * board.width, "
               "board.y0 + (k >> 1) * board.depth, board.level, 1, 1))"
               ".every(([x, y]) => x > 0 && x < 1 && y > 0 && y < 1)")
    for width, height in ((900, 300), (300, 900), (500, 500)):
        browser.run(f"(() => {{ view.stage.style.width = '{width}px'; view.stage.style.height = '{height}px';"
                    " view.resize(); })()")
        assert browser.run(corners), (width, height)
    browser.run("(() => { camera.distance /= 4; view.stage.style.width = '900px'; view.resize(); })()")
    assert not browser.run(corners)  # who looks at a place stays there


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_it_is_no_wider_than_its_window(browser, opened, standing_result, width):
    opened(standing_result, width=width)
    assert browser.run("document.documentElement.scrollWidth") <= width


def test_without_webgl_there_is_a_still_picture(browser, opened, standing_result):
    hide = browser.ask("Page.addScriptToEvaluateOnNewDocument", source=(
        "const kept = HTMLCanvasElement.prototype.getContext;"
        "HTMLCanvasElement.prototype.getContext = function (kind, ...more) {"
        " return kind.startsWith('webgl') ? null : kept.call(this, kind, ...more); }"))
    opened(standing_result)
    seen = browser.run("[document.querySelector('.still-picture').checkVisibility(),"
                       "document.getElementById('stage').checkVisibility()]")
    browser.ask("Page.removeScriptToEvaluateOnNewDocument", identifier=hide["identifier"])
    assert seen == [True, False]


def test_hostile_texts_run_nothing(browser, opened, result):
    """Names, comments and paths that hold markup, in everything that the scripts put down, too."""
    job, source = result.job, Source(HOSTILE, f"%\n({HOSTILE})\n".encode() + b"G1 X1\n" * 7)
    stage = replace(job.stages[0], name=HOSTILE, program=HOSTILE)
    record = replace(result.records[0], reading=replace(result.records[0].reading, source=source))
    made = replace(
        result, job=replace(job, title=HOSTILE, stages=(stage,)), records=(record,),
        findings=tuple(replace(f, about=HOSTILE, stage=HOSTILE, program=HOSTILE, line=2)
                       for f in result.findings),
        stages=(replace(result.stages[0], name=HOSTILE, program=HOSTILE),))
    opened(made)
    browser.run("for (let x = 0; x < 100; x += 10) for (let y = 0; y < 80; y += 10) view.tellAt(x, y)")
    browser.run("for (const n of [0, 1, 2, 3]) { surface.mode = n; view.key(); }")
    assert browser.run("document.querySelectorAll('script').length") == len(SCRIPTS) + 1
    assert browser.run("[...document.querySelectorAll('img, iframe, object, [onerror]')].length") == 0
    assert [e for e in browser.events if e.get("method") == "Page.javascriptDialogOpening"] == []


def test_on_paper_each_stage_is_one_sheet(browser, opened, every_cutter):
    opened(every_cutter)
    paper = base64.b64decode(browser.ask("Page.printToPDF", paperWidth=8.27, paperHeight=11.69)["data"])
    assert paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ") == len(every_cutter.stages)
