"""The result file has exactly the public format's keys, finite numbers, the job's unit, and is whole."""

from __future__ import annotations

import json
import os
from dataclasses import replace

import pytest
from proveout.parser.jobfile import read_job
from proveout.sim.stage_figures import Histogram, HoldFigures, HoldMap, Level, RidgeFigures
from proveout.sim.verify import verify
from proveout.sim.work_figures import Hardest
from proveout.viewer.record import as_json, record
from proveout.viewer.writing import write_bytes, write_text

# The format as published, written out here a second time: a change must be made in both places.
TOP = ["format", "title", "verdict", "units", "inputs", "findings", "stages", "budget", "unchecked",
       "version", "quiet", "settings"]
FINDING = ["kind", "severity", "stage", "program", "line", "lines", "count", "at", "shown", "value", "limit",
           "unit", "about", "message", "advice"]
STAGE = ["name", "seconds", "cut_length", "rapid_length", "removed_volume", "lowest_cut", "extents", "face",
         "holes", "clearances", "holder", "held", "slack", "bears", "zeros", "feeds", "time", "stops", "fits",
         "hardest"]
FACE = ["area", "missed_area", "over_area", "highest", "lowest", "ridge_height", "flatness", "band_95",
        "ridge", "levels", "histogram"]
FEEDS = ["cutter", "feeds", "chip", "window", "down", "feed_override", "speed", "surface_speed", "depth",
         "step", "step_percent", "ramp", "removal", "power", "rubbing", "slowing", "longest_slow", "thinned",
         "sliver", "speed_override", "overrides", "speeds"]
TIME = ["accelerated", "in_passes", "other_feeds", "rapids", "dwells", "passes", "waits"]
HOLE = ["at", "wanted", "diameter", "bottom", "through", "error", "ring"]


def test_keys_are_the_published_ones(result):
    made = json.loads(as_json(record(result)))
    assert list(made) == TOP
    assert made["format"] == 1
    assert made["verdict"] == "stop"
    assert made["units"] == "mm"
    assert [list(f) for f in made["findings"]] == [FINDING] * 3
    stage = made["stages"][0]
    assert list(stage) == STAGE
    assert list(stage["face"]) == FACE
    assert list(stage["holes"][0]) == HOLE
    assert list(stage["feeds"][0]) == FEEDS
    assert list(stage["time"]) == TIME
    assert list(stage["time"]["passes"][0]) == ["line", "lines", "from", "to", "length", "seconds"]
    assert list(stage["time"]["waits"][0]) == ["line", "code", "cutter", "after"]
    assert list(stage["feeds"][0]["overrides"][0]) == ["percent", "chip", "seconds", "power", "leaves"]
    assert list(stage["extents"]) == ["x", "y", "z"]
    assert list(stage["clearances"][0]) == ["about", "clearance", "line"]
    assert list(made["budget"]) == ["cover_over_heads", "facings_left", "limited_by", "depth", "limits",
                                    "deeper", "heads", "clean"]
    assert made["inputs"] == [{"file": "face.nc", "sha256": result.inputs[0].sha256}]
    assert made["unchecked"][0] == {"what": "holder", "why": "machine.nose is not given"}


def test_figures_are_the_results(result):
    made = record(result)
    stage = made["stages"][0]
    assert stage["face"]["flatness"] == 4.0
    assert stage["holes"][1]["wanted"] is None
    assert stage["holes"][1]["error"] is None
    assert made["findings"][0]["at"] == [20.0, 10.0, -4.0]
    assert made["findings"][1]["lines"] == [7, 8]
    assert made["findings"][1]["count"] == 3
    assert made["budget"] == {
        "cover_over_heads": -1.1, "facings_left": 3, "limited_by": "edge screws 1", "depth": 0.4,
        "limits": [],
        "deeper": None, "heads": [], "clean": None}


def test_the_hardest_moves_are_in_the_jobs_unit(result, inch_result):
    hardest = (Hardest("volume", 25.4**3, 7, (25.4, 0.0)), Hardest("width", 12.7, 8, (0.0, 50.8)),
               Hardest("entry", 3.0, 9, (0.0, 0.0)))
    told = record(replace(inch_result, stages=(replace(inch_result.stages[0], hardest=hardest),)))
    assert told["stages"][0]["hardest"] == {
        "volume": {"value": 1.0, "line": 7, "at": [1.0, 0.0]},
        "width": {"value": 0.5, "line": 8, "at": [0.0, 2.0]},
        "entry": {"value": 3.0, "line": 9, "at": [0.0, 0.0]}}


def test_how_a_face_lies_is_in_the_jobs_unit(inch_result):
    stage = inch_result.stages[0]
    bars, ridge = Histogram(-25.4, 2.54, (645.16, 1290.32)), RidgeFigures(0.0254, 50.8, 90.0, (4, 6))
    face = replace(stage.face, band=0.254, levels=(Level(-25.4, 645.16),), ridge=ridge, histogram=bars)
    told = record(replace(inch_result, stages=(replace(stage, face=face),)))["stages"][0]["face"]
    assert told["band_95"] == pytest.approx(0.01)
    assert told["levels"] == [{"z": -1.0, "area": 1.0}]
    assert told["ridge"] == {"height": 0.001, "spacing": 2.0, "direction": 90.0, "lines": [4, 6]}
    assert told["histogram"] == {"lowest": -1.0, "step": 0.1, "areas": [1.0, 2.0]}


def test_the_map_of_what_holds_the_board_is_in_the_jobs_unit(inch_result):
    chart = HoldMap((12.7, 38.1), (12.7,), 25.4, ((50.8, None),))
    held = HoldFigures(63.5, (38.1, 12.7), 9, 203.2, chart)
    told = record(replace(inch_result, stages=(replace(inch_result.stages[0], held=held),)))["stages"][0]
    assert told["held"] == {"farthest": 2.5, "at": [1.5, 0.5], "line": 9, "span": 8.0,
                            "map": {"start": [0.5, 0.5], "step": 1.0, "rows": [[2.0, None]]}}


def test_what_is_no_finite_number_is_null(result):
    assert record(result)["stages"][0]["face"]["ridge_height"] is None  # NaN in the fixture
    endless = replace(result, stages=(replace(result.stages[0], seconds=float("inf"), lowest_cut=None),))
    stage = record(endless)["stages"][0]
    assert stage["seconds"] is None
    assert stage["lowest_cut"] is None
    as_json(record(endless))  # would raise for a number that JSON has no word for


def test_an_inch_job_is_in_inches(result, inch_result):
    """1 in is 25.4 mm by definition; areas go with its square, volumes with its cube."""
    mm, inch = record(result), record(inch_result)
    assert inch["units"] == "inch"
    for power, name in ((1, "cut_length"), (3, "removed_volume")):
        assert inch["stages"][0][name] == pytest.approx(mm["stages"][0][name] / 25.4**power, abs=1e-9)
    assert inch["stages"][0]["face"]["area"] == pytest.approx(8000 / 25.4**2, abs=1e-9)
    assert inch["stages"][0]["seconds"] == 761.2
    assert inch["findings"][0]["value"] == pytest.approx(-1.1 / 25.4, abs=1e-9)
    assert inch["findings"][0]["unit"] == "in"
    assert " in " in inch["findings"][0]["message"]


def test_a_file_is_whole_or_not_there(tmp_path, monkeypatch):
    target = tmp_path / "result.json"
    target.write_text("old")

    def fail(source, destination):
        raise OSError("no room")

    monkeypatch.setattr(os, "replace", fail)
    with pytest.raises(OSError, match="no room"):
        write_bytes(target, b"new")
    assert target.read_text() == "old"
    assert list(tmp_path.iterdir()) == [target]


def test_a_file_is_written_as_anyone_may_read_it(tmp_path):
    write_text(str(tmp_path / "ä.json"), "1 mm²\n")
    assert (tmp_path / "ä.json").read_bytes() == "1 mm²\n".encode()
    plain = tmp_path / "plain"
    plain.write_text("")
    assert (tmp_path / "ä.json").stat().st_mode == plain.stat().st_mode


def test_dash_is_standard_output(capsys):
    write_text("-", "{}\n")
    assert capsys.readouterr().out == "{}\n"


def test_what_may_be_wrong_is_recorded_with_what_ends_it(tmp_path):
    """A pass 1.6 over a head: doubt, the way down and another zero, each with its name; null: nothing."""
    (tmp_path / "a.nc").write_text("G21 G90 G17 G94 G54\nS9000 M3\nG0 Z5\nG0 X-20 Y50\nG1 Z-0.4 F900\n"
                                   "G1 X120\nM30\n")
    (tmp_path / "job.toml").write_text(
        'board = { x = [0, 100], y = [0, 100], thickness = 18 }\n'
        'cutters = [{ number = 1, shape = "facing", diameter = 25 }]\n'
        'fasteners = [{ name = "s", head = { diameter = 14, height = 4 }, at = [[50, 50]], seat = -6 }]\n'
        'stages = [{ name = "a", program = "a.nc", start = [0, 0, 30] }]\n')
    stage = record(verify(read_job(tmp_path / "job.toml"), threads=1))["stages"][0]
    assert stage["bears"]["z_zero"] == {"amount": pytest.approx(1.6), "by": "s 1"}
    assert stage["slack"]["left"] == {"amount": None, "by": None}
    assert [(zero["on"], zero["meets"]) for zero in stage["zeros"]] == [("board", None), ("bed", "s 1")]
