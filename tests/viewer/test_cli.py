"""The command: exit status, what goes to which stream, what is written; bad input is one message.

The checking itself stands in sim's tests; here `verify` gives the hand-made Result, except where said.
"""

from __future__ import annotations

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from proveout.parser.finding import registry
from proveout.viewer import cli

PROGRAM = ("%\nG21 G90 G17 G94\nG54\nG0 Z10\nM3 S12500\nG0 X0 Y0\nG1 Z-0.4 F500\nG1 X50 F2000\n"
           "G0 Z10\nM5\nM30\n%\n")
JOB = """format = 1
units = "mm"

[board]
x = [0, 100]
y = [0, 80]
thickness = 18

[[cutters]]
number = 1
shape = "facing"
diameter = 25.4

[[stages]]
name = "face"
program = "face.nc"
"""
RUN = [sys.executable, "-m", "proveout.viewer"]


@pytest.fixture
def folder(tmp_path, monkeypatch) -> Path:
    (tmp_path / "job.toml").write_text(JOB)
    (tmp_path / "face.nc").write_text(PROGRAM)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def answered(folder, result, monkeypatch):
    """The command with a `verify` that gives the hand-made Result."""
    module = import_module("proveout.sim.verify")
    monkeypatch.setattr(module, "verify", lambda job, **options: result)
    return folder


def run(monkeypatch, *arguments: str) -> int:
    monkeypatch.setattr(sys, "argv", ["proveout", *arguments])
    with pytest.raises(SystemExit) as done:
        cli.main()
    assert isinstance(done.value.code, int)
    return done.value.code


def test_a_stop_is_status_1_and_the_report_is_plain(answered, capsys, monkeypatch):
    assert run(monkeypatch, "check", "job.toml") == 1
    seen = capsys.readouterr()
    assert seen.out.startswith("DO NOT RUN")
    assert "\x1b" not in seen.out


def test_nothing_found_is_status_0(answered, clear_result, capsys, monkeypatch):
    module = import_module("proveout.sim.verify")
    monkeypatch.setattr(module, "verify", lambda job, **options: clear_result)
    assert run(monkeypatch, "check", "job.toml") == 0
    assert capsys.readouterr().out.startswith("NOTHING FOUND")


def test_a_result_on_standard_output_sends_the_report_to_the_other_stream(answered, capsys, monkeypatch):
    assert run(monkeypatch, "check", "job.toml", "--json", "-") == 1
    seen = capsys.readouterr()
    assert json.loads(seen.out)["verdict"] == "stop"
    assert "DO NOT RUN" in seen.err


def test_files_asked_for_are_written(answered, capsys, monkeypatch):
    assert run(monkeypatch, "check", "job.toml", "--json", "r.json", "--save-surface", "s.npz") == 1
    assert json.loads((answered / "r.json").read_text(encoding="utf-8"))["format"] == 1
    assert np.load(answered / "s.npz")["heights"].shape == (80, 100)
    assert sorted(p.name for p in answered.iterdir()) == ["face.nc", "job.toml", "r.json", "s.npz"]


def test_one_stage_is_reported(answered, capsys, monkeypatch):
    assert run(monkeypatch, "check", "job.toml", "--stage", "face") == 1
    assert "(face)" in capsys.readouterr().out


def test_several_jobs_are_reported_one_after_the_other(answered, capsys, monkeypatch):
    second_job(answered)
    assert run(monkeypatch, "check", "job.toml", "other.toml") == 1
    assert capsys.readouterr().out.count("DO NOT RUN") == 2


def test_where_to_go_on_after_a_stop_that_nobody_planned(tmp_path, capsys, monkeypatch):
    """A pass that begins in the cut, the way to it before and after, and all that the control must know."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "face.nc").write_text(
        "G21 G90 G17 G94 G54\nT1\nG0 Z20\nS12500 M3\n"
        "G0 X-20 Y0\nG0 Z5\nG1 Z-0.4 F800\nG1 X120 F2000\nG0 Z10\n"
        "G0 X-20 Y20\nG0 Z5\nG1 Z-0.4 F800\nG1 X120 F2000\nG0 Z10\nM5\nM30\n")
    (tmp_path / "job.toml").write_text(
        'board = { material = "MDF", x = [0, 100], y = [0, 40], thickness = 18 }\n'
        'cutters = [{ number = 1, shape = "facing", diameter = 25, edges = 2 }]\n'
        'stages = [{ name = "face", program = "face.nc", start = [0, 0, 30], cutter = 1 }]\n')
    assert run(monkeypatch, "check", "job.toml", "--resume", "13") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "RESUME face.nc line 13: G1 X120 F2000" in said
    assert "no Line 13 begins in the cut, at X-20 Y20 Z-0.4 on the control: do not go on there." in said
    assert "from line 11: the tip is then at X-20 Y20 Z10, above all that stands" in said
    assert "or line 14" not in said  # it begins at the end of the pass, in the board
    assert "set G21 G17 G90 G94 G54 G0; cutter 1 in the spindle; S12500 M3; F2000" in said
    assert "go Z10 or higher first (highest is the board); then X-20 Y20; start the spindle; then Z10" in said
    assert run(monkeypatch, "check", "job.toml", "--resume", "13", "--json", "r.json") == 2
    assert run(monkeypatch, "check", "job.toml", "--resume", "99") == 2


def test_a_folder_stands_for_its_job(answered, capsys, monkeypatch):
    assert run(monkeypatch, "check", ".") == 1
    assert capsys.readouterr().out.count("DO NOT RUN") == 1


def binary(folder: Path) -> None:
    (folder / "face.nc").write_bytes(b"\x7fELF\0\0\1\2" * 100)


def long_line(folder: Path) -> None:
    (folder / "face.nc").write_bytes(b"G1 X" + b"1" * 100_000_000)


def page(folder: Path) -> None:
    (folder / "face.nc").write_text("<!DOCTYPE html>\n<html><body>G0 X1</body></html>\n")


def replaced(old: str, new: str):
    def change(folder: Path) -> None:
        assert old in JOB
        (folder / "job.toml").write_text(JOB.replace(old, new))
    return change


def emptied(name: str):
    return lambda folder: (folder / name).write_bytes(b"")


def wrong_encoding(folder: Path) -> None:
    (folder / "face.nc").write_bytes(b"\xff\xfe" + b"G\0001")  # says UTF-16 and breaks off


def as_it_is(folder: Path) -> None:
    pass


def second_job(folder: Path) -> None:
    (folder / "other.toml").write_bytes((folder / "job.toml").read_bytes())


def empty_folder(folder: Path) -> None:
    (folder / "nothing").mkdir()


BAD = {  # what is done to the files, the command line, what the message must name
    "no such job": (as_it_is, ["check", "none.toml"], ["none.toml"]),
    "a folder of no jobs": (empty_folder, ["check", "nothing"], ["nothing"]),
    "no program": (lambda f: (f / "face.nc").unlink(), ["check", "job.toml"], ["face.nc"]),
    "empty job": (emptied("job.toml"), ["check", "job.toml"], ["job.toml"]),
    "empty program": (emptied("face.nc"), ["check", "job.toml"], ["face.nc"]),
    "binary program": (binary, ["check", "job.toml"], ["face.nc"]),
    "another format": (page, ["check", "job.toml"], ["face.nc"]),
    "a line of 100 MB": (long_line, ["check", "job.toml"], ["face.nc", "line 1"]),
    "wrong encoding": (wrong_encoding, ["check", "job.toml"], ["face.nc"]),
    "not TOML": (replaced("format = 1", "format = = 1"), ["check", "job.toml"], ["job.toml", "1"]),
    "a slip": (replaced("thickness", "thicknes"), ["check", "job.toml"], ["thicknes", "thickness"]),
    "negative diameter": (replaced("25.4", "-25.4"), ["check", "job.toml"], ["diameter", "-25.4"]),
    "NaN": (replaced("25.4", "nan"), ["check", "job.toml"], ["diameter", "nan"]),
    "a name of nothing": (replaced('program = "face.nc"', 'program = "face.nc"\ncutter = 7'),
                          ["check", "job.toml"], ["cutter", "7"]),
    "no such stage": (as_it_is, ["check", "job.toml", "--stage", "drill"], ["drill", "face"]),
    "a program alone": (as_it_is, ["check", "face.nc"], ["--cutter"]),
    "no such cutter": (as_it_is, ["check", "face.nc", "--cutter", "spoon 3"], ["spoon"]),
    "a folder to write to": (as_it_is, ["check", "job.toml", "--json", "."], ["--json"]),
    "no folder to write to": (as_it_is, ["check", "job.toml", "--json", "no/r.json"], ["--json", "no"]),
    "one file for two jobs": (second_job, ["check", "job.toml", "other.toml", "--json", "r.json"],
                              ["--json"]),
    "no such option": (as_it_is, ["check", "job.toml", "--colour"], ["--colour"]),
    "no such command": (as_it_is, ["chekc"], ["chekc"]),
    "read: no such program": (as_it_is, ["read", "none.nc"], ["none.nc"]),
    "read: a folder": (as_it_is, ["read", "."], []),
    "read: an empty program": (emptied("face.nc"), ["read", "face.nc"], ["face.nc", "empty"]),
    "read: no such dialect": (as_it_is, ["read", "face.nc", "--dialect", "of-nowhere"], ["of-nowhere"]),
    "explain: no such kind": (as_it_is, ["explain", "head-strik"], ["head-strik", "head-strike"]),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_message_and_nothing_written(folder, capsys, monkeypatch, name):
    prepare, arguments, named = BAD[name]
    prepare(folder)
    before = {p.name: p.stat().st_mtime_ns for p in folder.rglob("*")}
    assert run(monkeypatch, *arguments) == 2
    seen = capsys.readouterr()
    assert seen.out == ""
    assert "Traceback" not in seen.err
    assert seen.err.count("proveout:") == 1
    assert all(word in seen.err for word in named), seen.err
    assert {p.name: p.stat().st_mtime_ns for p in folder.rglob("*")} == before


def test_a_map_too_large_names_a_cell_that_fits(folder, capsys, monkeypatch):
    wide = JOB.replace("[0, 100]", "[0, 9000]").replace("[0, 80]", "[0, 8000]")
    (folder / "job.toml").write_text(wide.replace("thickness = 18", "thickness = 18\ncell = 0.001"))
    assert run(monkeypatch, "check", "job.toml") == 2
    seen = capsys.readouterr()
    assert "mm would fit" in seen.err
    assert seen.out == ""


def test_a_mistake_of_ours_is_owned_up_to(answered, capsys, monkeypatch):
    module = import_module("proveout.sim.verify")

    def broken(job, **options):
        raise RuntimeError("out of ideas")

    monkeypatch.setattr(module, "verify", broken)
    assert run(monkeypatch, "check", "job.toml") == 2
    seen = capsys.readouterr()
    assert "proveout itself failed (RuntimeError: out of ideas); there is no verdict." in seen.err
    assert seen.out == ""


def test_read_says_what_a_program_does(folder, capsys, monkeypatch):
    """50 mm along X and 10.4 down at feed; 10.4 up in rapids: read off the program above."""
    files = ["--json", "r.json", "--moves", "m.csv"]
    assert run(monkeypatch, "read", "face.nc", "--dialect", "standard", *files) == 0
    made, = json.loads((folder / "r.json").read_text(encoding="utf-8"))["programs"]
    assert list(made)[:7] == ["program", "dialect", "lines", "moves", "seconds_to_read", "extents", "lengths"]
    assert made["lines"] == 12
    assert made["extents"] == {"x": [0, 50], "y": [0, 0], "z": [-0.4, 10]}
    assert made["lengths"]["feed"] == pytest.approx(60.4)
    assert made["lengths"]["rapid"] == pytest.approx(10.4)
    rows = (folder / "m.csv").read_text(encoding="utf-8").splitlines()
    assert rows[0].startswith("program,line,move,x0")
    assert len(rows) == made["moves"] + 1
    assert "50 mm" in capsys.readouterr().out


@pytest.mark.parametrize("prepare", [binary, page])
def test_read_finds_no_program_in_another_format(folder, capsys, monkeypatch, prepare):
    prepare(folder)
    assert run(monkeypatch, "read", "face.nc", "--json", "r.json") == 1
    made, = json.loads((folder / "r.json").read_text(encoding="utf-8"))["programs"]
    assert [found["kind"] for found in made["findings"]] == ["unread"]


@pytest.mark.parametrize("kind", sorted(registry()))
def test_every_kind_is_explained(kind, capsys, monkeypatch):
    assert run(monkeypatch, "explain", kind) == 0
    assert kind in capsys.readouterr().out


def test_explain_alone_lists_the_kinds(capsys, monkeypatch):
    assert run(monkeypatch, "explain") == 0
    assert capsys.readouterr().out.split()[::2] == list(registry())


def test_the_module_runs_as_the_command_does(tmp_path):
    seen = subprocess.run([*RUN, "--version"], capture_output=True, text=True, cwd=tmp_path)
    assert seen.returncode == 0
    assert seen.stdout.startswith("proveout ")
    lost = subprocess.run([*RUN, "check", "none.toml"], capture_output=True, text=True, cwd=tmp_path)
    assert lost.returncode == 2
    assert lost.stdout == ""


def test_a_closed_pipe_is_no_traceback(folder):
    reader = f"{sys.executable} -m proveout.viewer explain | head -c 5"
    seen = subprocess.run(reader, shell=True, capture_output=True, text=True)
    assert "Traceback" not in seen.stderr


def test_steps_are_given_to_the_check(folder, result, monkeypatch):
    module = import_module("proveout.sim.verify")
    asked = []
    monkeypatch.setattr(module, "verify", lambda job, **options: asked.append(job.most_moves) or result)
    run(monkeypatch, "check", "job.toml", "--steps", "7")
    run(monkeypatch, "check", "job.toml")
    assert asked == [7, None]
