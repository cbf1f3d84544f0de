"""The demo from nothing: two programs with three faults, each found on its line, and the corrected job."""

from __future__ import annotations

import json
import subprocess
import sys
from importlib.resources import files
from math import pi
from pathlib import Path

import pytest
from proveout.viewer.demo.run import FILES, write_files
from proveout.viewer.errors import Refused

FAULTS = {  # program: {line: the kind of what is found there}
    "drill.nc": {58: "clamp-strike"},
    "face.nc": {71: "ridge", 119: "head-strike"},
}


@pytest.fixture(scope="session")
def demo(tmp_path_factory) -> tuple[Path, subprocess.CompletedProcess]:
    folder = tmp_path_factory.mktemp("demo")
    seen = subprocess.run([sys.executable, "-m", "proveout.viewer", "demo", str(folder / "here")],
                          capture_output=True, text=True, cwd=folder)
    return folder / "here", seen


def found(folder: Path, part: str) -> list[dict]:
    return json.loads((folder / part / "result.json").read_text(encoding="utf-8"))["findings"]


def changed_lines(name: str) -> set[int]:
    """Numbers of the lines in which the faulty program differs from the corrected one."""
    texts = files("proveout.viewer.demo")
    right, wrong = (texts.joinpath(n).read_text(encoding="utf-8").splitlines()
                    for n in (name, name.replace(".nc", ".faulty.nc")))
    assert len(right) == len(wrong)
    return {number for number, (a, b) in enumerate(zip(right, wrong, strict=True), 1) if a != b}


def test_the_two_jobs_differ_on_three_lines():
    assert FILES["faulty/job.toml"] == FILES["corrected/job.toml"]
    assert changed_lines("drill.nc") == {58}
    assert changed_lines("face.nc") == {71, 119}


def test_both_verdicts_are_shown(demo):
    folder, seen = demo
    assert seen.returncode == 0, seen.stderr
    places = [seen.stdout.index(words) for words in ("DO NOT RUN", "corrected.", "NOTHING FOUND")]
    assert places == sorted(places)
    assert max(len(line) for line in seen.stdout.splitlines() if str(folder) not in line) <= 80


def test_the_readme_shows_what_the_demo_says(demo):
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.split("```text\n")[1].split("\n```")[0]
    assert f"\n{shown}\n" in demo[1].stdout


def test_every_fault_is_found_on_its_line(demo):
    folder, _ = demo
    there = {(f["kind"], f["program"], f["line"]) for f in found(folder, "faulty")}
    wanted = {(kind, program, line) for program, faults in FAULTS.items() for line, kind in faults.items()}
    assert wanted <= there


def test_nothing_is_found_in_the_corrected_job(demo):
    folder, _ = demo
    assert [f for f in found(folder, "corrected") if f["severity"] != "note"] == []


def test_the_corrected_board_is_faced_all_over(demo):
    """600 x 400 mm, six counterbores 13 mm wide and 14 holes 6.6 mm wide left out."""
    folder, _ = demo
    stages = json.loads((folder / "corrected/result.json").read_text(encoding="utf-8"))["stages"]
    face = stages[1]["face"]
    assert face["missed_area"] == 0
    assert face["area"] == pytest.approx(600 * 400 - 6 * pi * 6.5**2 - 14 * pi * 3.3**2, abs=2)
    assert sum(hole["through"] for hole in stages[0]["holes"]) >= 14


def test_the_budget_is_what_hand_calculation_gives(demo):
    """Head top: seat -8 and an M6 washer of 1.8 and a head of 3.3 (ISO 7089, ISO 7380-1) make -2.9; faced to
    -0.4 that leaves 2.5 over it, 1 of them kept: floor(1.5 / 0.4) = 3 facings."""
    folder, _ = demo
    budget = json.loads((folder / "corrected/result.json").read_text(encoding="utf-8"))["budget"]
    assert budget["cover_over_heads"] == pytest.approx(2.5, abs=1e-6)
    assert budget["facings_left"] == 3


def test_files_are_where_it_says(demo):
    folder, seen = demo
    drawn = "board.png" if "was not drawn" not in seen.stderr else None
    for part in ("faulty", "corrected"):
        names = {p.name for p in (folder / part).iterdir()}
        assert names == {"job.toml", "drill.nc", "face.nc", "result.json", "page.html", drawn} - {None}
        assert str(folder / part) in seen.stdout


def test_a_changed_file_is_not_overwritten(tmp_path):
    write_files(tmp_path)
    write_files(tmp_path)
    mine = tmp_path / "faulty" / "face.nc"
    mine.write_text("G0 X1\n")
    with pytest.raises(Refused, match=r"face\.nc"):
        write_files(tmp_path)
    assert mine.read_text() == "G0 X1\n"
