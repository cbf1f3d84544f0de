"""A first job file: accepted as written, with every key it shows, and never in another file's place.

Oracles: the reader of job files; a checker of JSON Schema written after its published draft.
"""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from proveout.parser.job import Job
from proveout.parser.jobfile import read_job
from proveout.parser.jobkeys import tables_in
from proveout.parser.jobschema import job_schema
from proveout.parser.units import Units
from proveout.sim.fitting import KNOWN
from proveout.sim.verify import verify
from proveout.viewer import starting
from proveout.viewer.answers import Said, answers, size, zero
from proveout.viewer.errors import Refused
from proveout.viewer.starting import start
from proveout.viewer.told import told_by

from ..parser.job_texts import IN_PARTS, PARTS, SHORT, WHOLE
from ..parser.json_schema import plain, wrong
from .shop import proveout

FACE = """%
(T3 D=25.4 FACE MILL)
G21 G90 G17 G94 G54
T3 M6
S12500 M3
G0 Z20
M0 (CLAMP)
G0 X-20 Y0
G1 Z-0.5 F500
G1 X300 F2000
Y20
X-20
G0 Z20
M5
M30
%
"""
HOLES = "%\nG21 G90 G17 G94 G54\nT2 M6\nS6000 M3\nG0 Z20\nG81 X30 Y30 Z-20 R2 F300\nX270\nG80\nM5\nM30\n%\n"
SHOWN = re.compile(r"^# (?=[a-z_0-9]+ = |\[\[)", re.MULTILINE)


@pytest.fixture
def folder(tmp_path) -> Path:
    (tmp_path / "face.nc").write_text(FACE)
    (tmp_path / "holes.nc").write_text(HOLES)
    return tmp_path


NOTHING = Said()


def started(folder: Path, *programs: str, said: Said = NOTHING, short: bool = False) -> Job:
    assert start(folder / "job", [folder / name for name in programs], said, short, False) == 0
    return read_job(folder / "job" / "job.toml", KNOWN)


# --- what is written ----------------------------------------------------------------------------------

@pytest.mark.parametrize("short", [False, True])
@pytest.mark.parametrize("inch", [False, True])
@pytest.mark.parametrize("programs", [(), ("face.nc",), ("face.nc", "holes.nc")])
def test_what_is_written_is_accepted_and_checked(folder, programs, inch, short):
    job = started(folder, *programs, said=Said(inch=inch), short=short)
    assert job.units is (Units.INCH if inch else Units.MM)
    assert [Path(stage.program).name for stage in job.stages] == list(programs or ("program.nc",))
    assert verify(job, threads=1).stages


def test_what_is_left_to_be_done_is_no_clear_verdict(folder):
    """With no program there is one that cuts nothing: the check says that the face is not cut."""
    assert verify(started(folder), threads=1).verdict == "caution"


@pytest.mark.parametrize("said", [Said(), Said(inch=True), Said(screw="none"), Said(cutters=["drill 6"])])
def test_every_key_that_is_shown_is_accepted_too(folder, said):
    """The example tables with their marks taken away, each clamp's with its name for the stage's change."""
    started(folder, "face.nc", "holes.nc", said=said)
    path = folder / "job" / "job.toml"
    text = path.read_text(encoding="utf-8")
    assert len(SHOWN.findall(text)) > 20
    path.write_text(SHOWN.sub("", text), encoding="utf-8")
    job = read_job(path, KNOWN)
    assert job.machine.spin_up == 3
    assert job.clamps[0].name == "front left"
    assert job.stages[0].changes[0].at_stop == 1


def test_programs_tell_units_size_cutters_stops_and_heights(folder):
    told = told_by(folder / "face.nc")
    assert (told.units, told.stops, told.z) == (Units.MM, (("M0", 7),), -0.5)
    job = started(folder, "face.nc", "holes.nc")
    assert job.board.x == (0, 300)
    assert [(c.number, c.shape, c.diameter) for c in job.cutters] == [(2, "drill", 6.6), (3, "facing", 25.4)]
    assert [stage.cutter for stage in job.stages] == [3, 2]
    assert [face.z for stage in job.stages for face in stage.face] == [-0.5]
    text = (folder / "job" / "job.toml").read_text(encoding="utf-8")
    assert "M0 on line 7" in text
    assert "it drills 2" in text
    assert "feeds from X-20 Y0 to X300 Y20" in text


def test_a_program_zeroed_in_the_middle(tmp_path):
    (tmp_path / "face.nc").write_text("G21 G90\nG0 Z5\nG1 Z-1 F300\nG0 X-200 Y-100\nG1 X200 F900\nY100\n"
                                      "X-200\nM30\n")
    assert told_by(tmp_path / "face.nc").corner == "middle"
    job = started(tmp_path, "face.nc")
    assert (job.board.x, job.board.y) == ((0, 400), (0, 200))
    assert job.stages[0].zero == (200, 100, 0)


def test_what_is_said_counts_more_than_what_programs_tell(folder):
    job = started(folder, "face.nc", said=Said(board="12 x 8 x 0.75", material="oak", cutters=["3: facing 1"],
                                               screw="ISO 4762 M8", screws="2x2", inset="1", sunk="0.5",
                                               zero="back right, bed", inch=True))
    assert job.board.x == (0, pytest.approx(12 * 25.4))
    assert (job.board.material, job.cutters[0].diameter) == ("oak", 25.4)
    assert job.stages[0].zero == pytest.approx((12 * 25.4, 8 * 25.4, -0.75 * 25.4))
    (screws,) = job.fasteners
    assert (screws.screw, screws.seat) == ("ISO 4762 M8", pytest.approx(-12.7))
    assert screws.grid is not None
    assert screws.grid.pitch == pytest.approx((10 * 25.4, 6 * 25.4))


def test_two_programs_of_one_name(folder):
    (folder / "b").mkdir()
    (folder / "b" / "face.nc").write_text(FACE)
    job = started(folder, "face.nc", "b/face.nc")
    assert len({stage.name for stage in job.stages}) == 2


def test_every_screw_of_the_tables_goes(tmp_path):
    text = files("proveout.sim.data").joinpath("fasteners.csv").read_text(encoding="utf-8")
    names = [f"{row['standard']} {row['thread']}" for row in csv.DictReader(text.splitlines())]
    heads = [name for name in names if "washer" not in name][::7]
    for number, name in enumerate(heads):
        start(tmp_path / str(number), [], Said(screw=name), True, False)
        assert read_job(tmp_path / str(number) / "job.toml", KNOWN).fasteners[0].grid is not None


def test_the_shortest_useful_job_file_is_under_15_lines(folder):
    """Board, cutter, screws, one program: and a check that looks at heads, depth and face."""
    job = started(folder, "face.nc", short=True)
    lines = (folder / "job" / "job.toml").read_text(encoding="utf-8").splitlines()
    assert len(lines) < 15
    figures = verify(job, threads=1).stages[0]
    assert figures.face is not None
    assert any(gap.about.startswith("screws") for gap in figures.clearances)


# --- what is never done -------------------------------------------------------------------------------

@pytest.mark.parametrize("name", ["job.toml", "program.nc"])
def test_nothing_is_overwritten(tmp_path, name):
    (tmp_path / name).write_text("mine")
    with pytest.raises(Refused, match="is there already"):
        start(tmp_path, [], Said(), False, False)
    assert sorted(p.name for p in tmp_path.iterdir()) == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_a_file_that_comes_meanwhile_is_not_overwritten(tmp_path):
    (tmp_path / "job.toml").write_text("mine")
    with pytest.raises(FileExistsError):
        starting.create(tmp_path / "job.toml", "ours")
    assert (tmp_path / "job.toml").read_text() == "mine"


@pytest.mark.parametrize(("said", "words"), [
    (Said(board="600"), "600 x 400 x 18"), (Said(board="0x4x1"), "no size"), (Said(screw="M6"), "no screw"),
    (Said(material="18"), "no material"),
    (Said(cutters=["saw 5"]), "shape"), (Said(screws="3"), "3 x 2"), (Said(zero="left"), "front left"),
    (Said(sunk="30"), "go through a board"), (Said(inset="300"), "do not fit"), (Said(inset="-1"), "over 0")])
def test_what_makes_no_sense_is_refused_before_anything_is_written(tmp_path, said, words):
    with pytest.raises(Refused, match=re.escape(words)):
        start(tmp_path / "job", [], said, False, False)
    assert not (tmp_path / "job").exists()


def test_from_the_command_line(folder):
    seen = proveout("new", "job", "--program", "face.nc", "--board", "300x200x18", cwd=folder)
    assert seen.returncode == 0, seen.stderr
    assert "proveout check" in seen.stdout
    assert proveout("new", "job", cwd=folder).returncode == 2
    for bad in (["new"], ["new", "x", "--program", "none.nc"], ["new", "face.nc"]):
        seen = proveout(*bad, cwd=folder)
        assert (seen.returncode, seen.stderr.count("\n")) == (2, 1)


# --- asking -------------------------------------------------------------------------------------------

def test_questions_are_asked_again_until_they_are_answered(monkeypatch, capsys):
    lines = ("600", "300 x 200 x 12", "", "fly 3", "facing 32", "ISO 7380-1 M8", "2 x 2", "25", "6",
             "middle, bed")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))
    made = answers(Said(), [], asking=True)
    assert (made.board, made.material) == ((300, 200, 12), "MDF")
    assert (made.screw, made.screws) == ("ISO 7380-1 M8", (2, 2))
    assert (made.tools[0].shape, made.tools[0].diameter) == ("facing", 32)
    assert (made.inset, made.sunk, made.corner, made.on_bed) == (25, 6, "middle", True)
    asked = capsys.readouterr().err
    assert "Board, width x depth x thickness [600 x 400 x 18]" in asked
    assert asked.count("Board, width") == asked.count("Cutter 1") == 2


def test_questions_that_nobody_answers(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    with pytest.raises(Refused, match="nothing was written"):
        answers(Said(), [], asking=True)


@pytest.mark.parametrize(("text", "read"), [
    ("600x400x18", (600, 400, 18)), ("600 × 400 × 18 mm", (600, 400, 18)),
    ("24 by 16 by .75", (24, 16, 0.75))])
def test_sizes(text, read):
    assert size(text) == read


@pytest.mark.parametrize(("text", "read"), [
    ("front left, top", ("front left", False)), ("back right", ("back right", False)),
    ("centre, Z on bed", ("middle", True))])
def test_zeros(text, read):
    assert zero(text) == read


# --- the schema ---------------------------------------------------------------------------------------

DEMO = files("proveout.viewer.demo").joinpath("job.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [DEMO, WHOLE, PARTS, IN_PARTS, SHORT])
def test_the_schema_takes_what_the_reader_takes(text):
    assert wrong(plain(tomllib.loads(text)), job_schema(), job_schema()) == ""


@pytest.mark.parametrize(("text", "other"), [
    ("diameter = 25.4", "diameter = -25.4"), ("diameter = 25.4", "diametre = 25.4"),
    ("x = [0, 300]", "x = [0]"),
    ('shape = "facing"', 'shape = "saw"'), ("number = 1", "number = 1.5"), ("number = 1\n", ""),
    ('name = "face"', "name = 3"), ("[board]", "[bord]")])
def test_the_schema_refuses_what_the_reader_refuses(text, other):
    assert text in SHORT
    assert wrong(plain(tomllib.loads(SHORT.replace(text, other))), job_schema(), job_schema())


def test_the_schema_knows_every_key_and_says_what_it_accepts():
    schema = job_schema()
    for _, table, _ in tables_in(tomllib.loads(WHOLE)):
        from proveout.parser.jobkeys import accepted, keys_of
        known = (schema if table is Job else schema["$defs"][table.__name__])["properties"]
        assert set(known) == set(keys_of(table))
        assert all(known[key]["description"] == accepted(kind) for key, kind in keys_of(table).items())
    assert "null" not in json.dumps(schema)


def test_the_schema_is_written_where_it_is_asked_for(tmp_path):
    seen = proveout("new", "--schema", cwd=tmp_path)
    assert json.loads(seen.stdout)["$schema"].startswith("https://json-schema.org/draft/2020-12")
    assert list(tmp_path.iterdir()) == []
    assert proveout("new", "here", "--schema", cwd=tmp_path).returncode == 0
    written = (tmp_path / "here" / "job.schema.json").read_text(encoding="utf-8")
    assert json.loads(written) == json.loads(seen.stdout)
    assert proveout("new", "here", "--schema", cwd=tmp_path).returncode == 2
