"""A job file read: every key, both units, and every mistake at its place with what would do.

Oracles: the design's list of keys (every one is in the texts of job_texts.py, and a test says that none is
missing); 1 in = 25.4 mm exactly; the places of mistakes, marked by hand in the texts.
"""

from __future__ import annotations

import pickle
import tomllib
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Annotated, Any, get_args, get_origin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.bare_job import cutter_of, with_swept_board
from proveout.parser.job import Job
from proveout.parser.jobcheck import validated
from proveout.parser.jobfile import job_from_program, read_job
from proveout.parser.jobkeys import accepted, keys_of, table_in, tables_in
from proveout.parser.mistakes import JobError, Report, mistake_in, shown
from proveout.parser.motion import MotionBuilder, Move
from proveout.parser.quantities import Measure
from proveout.parser.reading import Reading
from proveout.parser.source import Source
from proveout.parser.toml_places import places_of
from proveout.parser.units import Units
from proveout.sim.fitting import KNOWN

from .job_texts import IN_PARTS, PARTS, PROGRAM, SHORT, WHOLE, write_job

TEXTS = (WHOLE, PARTS, IN_PARTS, SHORT)


# --- good files ---------------------------------------------------------------------------------------

@pytest.mark.parametrize("text", TEXTS)
def test_good_files_are_read(tmp_path, text):
    job = read_job(write_job(tmp_path, text), KNOWN)
    assert set(job.sources) == {stage.name for stage in job.stages}
    assert all(source.text == PROGRAM for source in job.sources.values())
    assert pickle.loads(pickle.dumps(job)) == job


def every_key(table: type = Job, path: str = "") -> Iterator[str]:
    for key, annotation in keys_of(table).items():
        yield f"{path}{key}"
        inner = table_in(annotation)
        if inner is not None:
            yield from every_key(inner, f"{path}{key}.")


def test_the_texts_use_every_key():
    """So no key of the design goes unread here, and none that is added goes untested."""
    trees = [tomllib.loads(text) for text in TEXTS]
    used = {(table, key) for tree in trees for _, table, values in tables_in(tree) for key in values}
    known = {(table, key) for table in {table for table, _ in used} for key in keys_of(table)}
    assert known <= used


def test_values_of_the_whole_job(tmp_path):
    job = read_job(write_job(tmp_path, WHOLE), KNOWN)
    assert job.title == "Left half"
    assert job.machine.origin == (88.0, 41.5, -64.2)
    assert job.machine.travel is not None
    assert job.machine.travel.z == (-110.0, 0.0)
    assert job.zeros == {"G55": (250.0, 0.0, 0.0), "G59.3": (0.0, 200.0, 1.5)}
    assert job.clamps[2].start == (-10.0, 0.0)
    assert job.fasteners[1].grid is not None
    assert job.fasteners[1].grid.count == (3, 2)
    assert [h.like for h in job.stages[0].holes] == [None, None, "dowels"]
    assert job.stages[2].face[0].depth == 0.4
    assert job.stages[1].clamps == "as left"
    assert [i.file for i in job.inputs] == ["job.toml", "drill.nc", "face.nc"]
    assert job.cutter(2) is job.cutters[1]
    assert {"machine.tram", "cutters.0.length"} <= job.given
    assert "cutters.1.length" not in job.given


def test_checksums_are_of_the_bytes(tmp_path):
    """SHA-256 of "abc": FIPS 180-2, appendix B.1. "abc" is no program, so a surface's file holds it."""
    job = write_job(tmp_path, PARTS)
    (tmp_path / "last.npz").write_bytes(b"abc")
    known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert known in [i.sha256 for i in read_job(job).inputs if i.file == "last.npz"]


def test_every_file_that_is_named_is_there_with_its_bytes(tmp_path):
    for text, name in ((PARTS, "last.npz"), (IN_PARTS, "tops.csv")):
        job = read_job(write_job(tmp_path, text))
        assert job.files[name].data == (tmp_path / name).read_bytes()
        assert name in [i.file for i in job.inputs]


@pytest.mark.parametrize("encode", [
    lambda text: b"\xef\xbb\xbf" + text.encode(), lambda text: text.encode("utf-16"),
    lambda text: text.replace("\n", "\r\n").encode()])
def test_marks_and_line_ends_change_nothing(tmp_path, encode):
    path = write_job(tmp_path, SHORT)
    plain = read_job(path)
    path.write_bytes(encode(SHORT))
    assert read_job(path).board == plain.board


def test_a_dialect_of_ones_own(tmp_path):
    (tmp_path / "mine.toml").write_text('inherits = "standard"\n', encoding="utf-8")
    job = read_job(write_job(tmp_path, SHORT + '[machine]\ndialect = "mine.toml"\n'))
    assert job.files["mine.toml"].text.startswith("inherits")


# --- units --------------------------------------------------------------------------------------------

# keys whose numbers are no lengths and no feeds: counts, numbers, turns, seconds, degrees, kilowatts
NO_LENGTH = {"format", "spindle", "spin_up", "spindle_power", "count", "number", "edges", "seats", "max_rpm",
             "angle", "cutter", "rpm", "at_stop", "at_line"}


def in_inches(value: Any, key: str = "") -> Any:
    if isinstance(value, dict):
        return {k: in_inches(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [in_inches(v, key) for v in value]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return value / 25.4 if number and key not in NO_LENGTH else value


def stretched(value: Any, by: float) -> Any:
    """The same tree with other lengths."""
    if isinstance(value, dict):
        return {k: v if k in NO_LENGTH else stretched(v, by) for k, v in value.items()}
    if isinstance(value, list):
        return [stretched(v, by) for v in value]
    return value * by if isinstance(value, int | float) and not isinstance(value, bool) else value


def leaves(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if is_dataclass(value):
        for f in fields(value):
            yield from leaves(getattr(value, f.name), f"{path}.{f.name}")
    elif isinstance(value, tuple):
        for n, each in enumerate(value):
            yield from leaves(each, f"{path}[{n}]")
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from leaves(each, f"{path}.{key}")
    else:
        yield path, value


def job_of(tree: dict) -> Job:
    report = Report(Source("job", b"x"), places_of(""))
    job = validated(tree, report)
    assert job is not None, [str(m) for m in report.mistakes]
    return job


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(TEXTS), st.floats(0.01, 1000))
def test_an_inch_job_is_its_millimetre_twin(text, by):
    tree = stretched(tomllib.loads(text), by)
    inch, mm = job_of(in_inches(tree) | {"units": "inch"}), job_of(tree | {"units": "mm"})
    for (path, one), (_, other) in zip(leaves(inch), leaves(mm), strict=True):
        if path != ".units" and isinstance(other, float):
            assert one == pytest.approx(other, rel=1e-12, abs=1e-12), path
        elif path != ".units":
            assert one == other, path


def plain_types(annotation: Any) -> Iterator[tuple[Any, tuple]]:
    """Each type within a type, with what it is annotated with."""
    if get_origin(annotation) is Annotated:
        inner, *marks = get_args(annotation)
        yield inner, tuple(marks)
        yield from plain_types(inner) if get_args(inner) else ()
    else:
        yield from ((annotation, ()),) if not get_args(annotation) else ()
        for each in get_args(annotation):
            yield from plain_types(each)


def test_every_number_has_a_dimension():
    """So that none stays an inch where it should be a millimetre."""
    for path in every_key():
        table: Any = Job
        for key in path.split("."):
            annotation = keys_of(table_in(table))[key]
            table = annotation
        for inner, marks in plain_types(annotation):
            assert inner is not float or any(isinstance(m, Measure) for m in marks), path


def test_every_key_says_what_it_accepts():
    for path in every_key():
        table: Any = Job
        for key in path.split("."):
            table = keys_of(table_in(table))[key]
        assert accepted(table) not in ("", "a list"), path


# --- mistakes -----------------------------------------------------------------------------------------

# (text to replace, what with: « marks where the caret belongs, key path, words of the message)
WRONG = [
    # unknown keys
    ("format = 1", "«formt = 1", "formt", 'unknown key; did you mean "format"?'),
    ("rapid = [4000", "«rapids = [4000", "machine.rapids", 'did you mean "rapid"?'),
    ("thickness = 19.0\n", "«thicknes = 19.0\n", "board.thicknes", 'did you mean "thickness"?'),
    ("diameter = 32\n", "«diametre = 32\n", "cutters[1].diametre", 'did you mean "diameter"?'),
    ("diameter = 32\n", "«Diameter = 32\n", "cutters[1].Diameter", 'did you mean "diameter"?'),
    ("lift = 0.1", "«edges = 2", "fasteners[1].edges", "unknown key"),
    ("width = 12", "width = 12\n«start = [1, 2]", "clamps[3].start", "unknown key"),
    ("through = true", "«thru = true", "stages[1].holes[1].thru", 'did you mean "through"?'),
    ("[uncertainty]", "[«uncertanty]", "uncertanty", 'did you mean "uncertainty"?'),
    ("[bed]", "«sources = 1\n[bed]", "machine.sources", "unknown key"),
    ("m8 = ", "«xyzzy = 1\nm8 = ", "machine.xyzzy", "this table knows: dialect, origin, travel"),
    ("keep = 6.0", "«chip_load = [0.1, 0.2]", "board.chip_load", '"chip_load" belongs to [[cutters]]'),
    # wrong types
    ('title = "Left half"', "title = «3", "title", "found 3; give a text in quotes"),
    ("format = 1", "format = «2", "format", "found 2; give 1"),
    ("format = 1", 'format = «"1"', "format", 'found "1"; give 1'),
    ('units = "mm"', 'units = «"inches"', "units", 'found "inches"; give "mm" or "inch"'),
    ("diameter = 32\n", 'diameter = «"32"\n', "cutters[1].diameter", 'found "32"; give a number over 0'),
    ("diameter = 32\n", "diameter = «true\n", "cutters[1].diameter", "found true; give a number over 0"),
    ("edges = 2", "edges = «2.5", "cutters[1].edges", "found 2.5; give a whole number, 1 or more"),
    ("number = 2", "number = «true", "cutters[2].number", "found true; give a whole number"),
    ("soft = false", "soft = «0", "bed.soft", "found 0; give true or false"),
    ("soft = false", 'soft = «"no"', "bed.soft", "give true or false"),
    ("zero = [0, 0, 0]\n", "zero = «[0, 0]\n", "stages[1].zero", "found [0, 0]; give a place, [x, y, z]"),
    ("zero = [0, 0, 0]\n", 'zero = [0, «"0", 0]\n', "stages[1].zero[2]", 'found "0"; give a number'),
    ("rapid = [4000, 4000, 2000]", 'rapid = «"fast"', "machine.rapid", "give one number over 0, or three"),
    ("rapid = [4000, 4000, 2000]", "rapid = «[1, 2]", "machine.rapid", "found [1, 2]"),
    ("rapid = [4000, 4000, 2000]", "rapid = [4000, «-1, 2000]", "machine.rapid[2]", "give a number over 0"),
    ("fitted = []", 'fitted = «"all"', "stages[1].fitted", "give a list of names"),
    ('clamps = "as left"', 'clamps = «"as-left"', "stages[2].clamps", 'or "as left"'),
    ("seat = -8.0", 'seat = «"bottom"', "fasteners[1].seat", 'give a height (Z) or "floor"'),
    ("corner = { radius = 0.4 }", "corner = «0.4", "cutters[1].corner", "found 0.4; give a table"),
    ("date = 2025-11-20", 'date = «"November"', "board.history[1].date", "give a date, as 2026-03-02"),
    ("at = [[40, 40], [440, 40]]", "at = [«40, 40]", "fasteners[1].at[1]", "give a place in plan, [x, y]"),
    ("[board]", "[«[board]]", "board", "found a table; give a [board] table"),
    # out of range
    ("diameter = 32\n", "diameter = «-32\n", "cutters[1].diameter", "found -32; give a number over 0"),
    ("diameter = 32\n", "diameter = «0\n", "cutters[1].diameter", "found 0; give a number over 0"),
    ("thickness = 19.0\n", "thickness = «nan\n", "board.thickness", "found nan; give a number over 0"),
    ("z_zero = 0.05", "z_zero = «inf", "uncertainty.z_zero", "found inf; give a number 0 or more"),
    ("z = -0.5", "z = «-nan", "stages[2].face.z", "found -nan; give a number"),
    ("top = -19.0", "top = «-1e300", "bed.top", "found -1e300"),
    ("top = -19.0", "top = «" + "9" * 400, "bed.top", "give a number"),
    ("angle = 120", "angle = «180", "cutters[2].angle", "give a number over 0 and under 180"),
    ('material = "MDF"\nx = [0, 500]', 'material = "MDF"\nx = «[500, 0]', "board.x",
     "the lower first, [low, high]"),
    ("spindle = [8000, 24000]", "spindle = «[24000, 8000]", "machine.spindle", "the lower first"),
    ("chip_load = [0.03, 0.25]", "chip_load = «[0.25, 0.25]", "cutters[1].chip_load", "the lower first"),
    ("count = [3, 2]", "count = [3, «0]", "fasteners[2].grid.count[2]", "give a whole number, 1 or more"),
    ("count = [3, 2]", "count = «[1000, 1000]", "fasteners[2].grid.count", "100,000 places at most"),
    ("at_stop = 1", "at_stop = «0", "stages[1].changes[1].at_stop", "give a whole number, 1 or more"),
    ("[6, 4]]", "[2, 4]]", "cutters[4].profile", "from the tip outward"),
    ("outline = [[0, 0], [500, 0], [250, 400]]", "outline = «[[0, 0], [500, 0]]", "stages[3].face.outline",
     "give a list of 3 corners or more"),
    ("outline = [[0, 0], [500, 0], [250, 400]]", "outline = «[[0, 0], [9, 9], [9, 0], [0, 9]]",
     "stages[3].face.outline", "does not enclose one area"),
    ('name = "middle screws"', 'name = «""', "fasteners[2].name", "not empty"),
    # missing
    ("number = 2\n", "", "cutters[2].number", "missing; give a whole number, 0 or more"),
    ('program = "drill.nc"\n', "", "stages[1].program", "missing; give a text in quotes"),
    ("number = 5\nshape = \"flat\"\ndiameter = 8\n", 'number = 5\nshape = "flat"\n', "cutters[5].diameter",
     'missing; a cutter of shape "flat" needs it'),
    ("tip = 0.2\nangle = 90\n", "tip = 0.2\n", "cutters[3].angle", 'a cutter of shape "cone" needs it'),
    ("profile = [[0, 0], [3, 0.5], [6, 4]]\n", "", "cutters[4].profile",
     'a cutter of shape "profile" needs it'),
    ('shape = "flat"', 'shape = "bull"', "cutters[5].corner.chamfer", "a bull cutter's corner is round"),
    (", pitch = [100, 100] }\nsunk", " }\nsunk", "fasteners[2].grid.pitch",
     "missing; give two distances over 0"),
    ("x = 0.03, y = -0.08", "x = 0.03, y = «-8", "machine.tram.y",
     "found -8; give what the indicator reads over the swing, under 3.6"),
    # alternatives
    ("keep = 6.0", "«outline = [[0, 0], [9, 0], [0, 9]]", "board.outline",
     '"outline" does not go with "x"; give one of: x and y; outline; parts'),
    ("thickness = 19.0\n", 'thickness = 19.0\n«survey = "tops.csv"\n', "board.survey",
     '"survey" does not go with "top"; give one of: top; survey; surface'),
    ("seat = -8.0", "seat = -8.0\n«sunk = 2", "fasteners[1].sunk", "give one of: seat; sunk"),
    ("sunk = 2.0", "sunk = 2.0\n«at = [[1, 2]]", "fasteners[2].at", "give one of: at; grid"),
    ("sunk = 2.0", 'sunk = 2.0\n«screw = "ISO 4762 M6"', "fasteners[2].screw", "give one of: screw; head"),
    ("above = 15", "above = 15\n«z = [0, 15]", "clamps[2].z", "give one of: z; above"),
    ("above = 15", "above = 15\n«x = [0, 15]", "clamps[2].x", '"x" does not go with "at"'),
    ("width = 12\n", "", "clamps[3].width", 'missing beside "from"; give one of: x and y; at and diameter'),
    ("above = 10\n", "", "clamps[3]", "something is missing; give one of: z; above"),
    ('screw = "ISO 7380-1 M6"\n', "", "fasteners[1]", "give one of: screw; head"),
    ("y = [196, 204], ", "", "bed.openings[2].y", 'missing beside "x"'),
    ("at_stop = 1, ", "", "stages[1].changes[1]", "give one of: at_stop; at_line"),
    ("z = -0.5, ", "", "stages[2].face", "give one of: z; depth"),
    ('{ cut_by = "drill" }', '{ diameter = 15, «cut_by = "drill" }', "fasteners[2].recess.cut_by",
     "give one of: diameter and depth; cut_by"),
    ("corner = { radius = 0.4 }", "corner = { radius = 0.4, «chamfer = 1 }", "cutters[1].corner.chamfer",
     "give one of: radius; chamfer"),
    ("diameter = 6.6, depth = 12", "diameter = 6.6, through = true, «depth = 12", "stages[1].holes[2].depth",
     "give one of them"),
    # references to nothing, and names twice
    ('fitted = ["edge screws", "middle screws"]', 'fitted = [«"edge screw", "middle screws"]',
     "stages[2].fitted[1]", '"edge screw" is no group of screws of this job; did you mean "edge screws"?'),
    ('clamps = ["front", "post"]', 'clamps = ["front", «"pots"]', "stages[1].clamps[2]",
     'did you mean "post"?'),
    ('remove = ["front"]', 'remove = [«"vice"]', "stages[1].changes[1].remove[1]",
     "give one of: front, post, bar"),
    ('unfit = ["edge screws"]', 'unfit = [«"x"]', "stages[1].changes[1].unfit[1]", "is no group of screws"),
    ("cutter = 2\nrpm", "cutter = «7\nrpm", "stages[1].cutter",
     "7 is no cutter of this job; give one of: 1, 2"),
    ("touch = { cutter = 3", "touch = { cutter = «9", "stages[1].changes[2].touch.cutter", "9 is no cutter"),
    ('like = "dowels"', 'like = «"dowel"', "stages[1].holes[3].like", 'did you mean "dowels"?'),
    ('cut_by = "drill"', 'cut_by = «"dril"', "fasteners[2].recess.cut_by", 'did you mean "drill"?'),
    ('kind = "chip-thin"', 'kind = «"chip-thn"', "stages[2].quiet[1].kind", 'did you mean "chip-thin"?'),
    ('kind = "chip-thin"', 'kind = «"head-strike"', "stages[2].quiet[1].kind", "cannot be silenced"),
    ("lift = 0.1", 'part = «"back"', "fasteners[1].part", "the job describes no part of the board"),
    ('screw = "ISO 7380-1 M6"', 'screw = «"ISO 7380-1 M66"', "fasteners[1].screw", "the nearest is"),
    ('washer = "ISO 7089 M6"', 'washer = «"ISO 7089 M7"', "fasteners[1].washer", "the nearest is"),
    ('dialect = "standard"', 'dialect = «"standrad"', "machine.dialect", "standard"),
    ('dialect = "standard"', 'dialect = «"mine.toml"', "machine.dialect", "there is no such file"),
    ("number = 2\n", "number = «1\n", "cutters[2].number", "cutters[1].number has it already"),
    ('name = "middle screws"', 'name = «"edge screws"', "fasteners[2].name", "a second time"),
    ('name = "face again"', 'name = «"face"', "stages[3].name", "a second time"),
    ("G55 = [", "«G54 = [", "zeros.G54", "the stage's own zero"),
    ("G55 = [", "«G60 = [", "zeros.G60", '"G60" is no work offset'),
    ('"G59.3" = [', "«G59.3 = [", "zeros.G59", 'write "G59.3" in quotes'),
    ('fitted = []', 'fitted = «"as left"', "stages[1].fitted", "no stage was before it"),
    # what cannot be meant
    ("core = 16.0", "core = «32", "cutters[1].core", "found 32; give less than diameter (32)"),
    ("seats = 4", "seats = «1", "cutters[1].edges", "give no more than seats (1)"),
    ("flute_length = 7", "flute_length = «31", "cutters[1].flute_length", "give no more than stickout (30)"),
    ("radius = 0.4", "radius = «16.1", "cutters[1].corner.radius", "no more than half of diameter (32)"),
    ("angle = 120", "«core = 2", "cutters[2].core", 'a cutter of shape "drill" has no core'),
    ("depth = 8.0 }", "depth = «19.0 }", "fasteners[1].recess.depth",
     "give less than the board's thickness (19)"),
    ("[ { at = [40, 40]", "[ { at = «[42, 40]", "fasteners[1].measured[1].at",
     "the nearest one is at [40, 40]"),
    ("mouth = 9.0", "mouth = 6.0", "bed.openings[1].diameter", "give no more than mouth (6)"),
]


def place_of(text: str) -> tuple[int, int]:
    """Line and column of the mark, both from 1."""
    before = text[:text.index("«")]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


@pytest.mark.parametrize(("old", "new", "path", "words"), WRONG,
                         ids=[f"{n} {wrong[2]}" for n, wrong in enumerate(WRONG)])
def test_a_mistake_is_told_at_its_place(tmp_path, old, new, path, words):
    assert WHOLE.count(old) >= 1
    marked = WHOLE.replace(old, new, 1)
    text = marked.replace("«", "")
    with pytest.raises(JobError) as caught:
        read_job(write_job(tmp_path, text), KNOWN)
    told = [m for m in caught.value.mistakes if m.key_path == path and words in m.message]
    assert told, str(caught.value)
    # a name that is gone is missed wherever it is used; nothing else follows from one mistake
    others = [m for m in caught.value.mistakes if m.line != told[0].line]
    assert all("of this job" in m.found for m in others), str(caught.value)
    assert not others or old.startswith(("number", "name"))
    line = text.split("\n")[told[0].line - 1]
    quoted, caret = told[0].quote.split("\n")
    assert quoted.strip() in line
    assert str(caught.value).startswith(f"{tmp_path / 'job.toml'}:{told[0].line}:")
    if "«" in marked and "mouth" not in old and "seats" not in old and old != "[board]":
        assert (told[0].line, told[0].column) == place_of(marked)
        assert quoted[len(caret) - len(caret.lstrip()):][:1] == line[told[0].column - 1]


def test_all_mistakes_come_at_once_and_in_order(tmp_path):
    text = WHOLE.replace("format = 1", "formt = 1").replace('title = "Left half"', "title = 3").replace(
        "diameter = 32\n", "diameter = -32\n").replace('program = "drill.nc"', 'program = "gone.nc"').replace(
        'clamps = ["front", "post"]', 'clamps = ["x"]')
    with pytest.raises(JobError) as caught:
        read_job(write_job(tmp_path, text), KNOWN)
    mistakes = caught.value.mistakes
    assert [m.key_path for m in mistakes] == ["formt", "title", "cutters[1].diameter", "stages[1].program",
                                              "stages[1].clamps[1]"]
    assert [m.line for m in mistakes] == sorted(m.line for m in mistakes)
    assert pickle.loads(pickle.dumps(caught.value)).mistakes == mistakes


def test_the_printed_form(tmp_path):
    with pytest.raises(JobError) as caught:
        read_job(write_job(tmp_path, SHORT.replace("diameter", "  diametre")))
    assert str(caught.value) == (f'{tmp_path}/job.toml:8:3: cutters[1].diametre: unknown key; did you mean '
                                 f'"diameter"?\n      diametre = 25.4\n      ^^^^^^^^')


@pytest.mark.parametrize(("table", "words"), [
    ("[board]", "give a [board] table"), ("[[cutters]]", "one [[cutters]] table"),
    ("[[stages]]", "one [[stages]] table")])
def test_the_three_tables_that_are_needed(tmp_path, table, words):
    parts = SHORT.split("\n\n")
    text = "\n\n".join(part for part in parts if not part.startswith(table))
    with pytest.raises(JobError) as caught:
        read_job(write_job(tmp_path, text))
    assert [m.key_path for m in caught.value.mistakes] == [table.strip("[]")]
    assert words in str(caught.value)


# --- files that cannot be read ------------------------------------------------------------------------

@pytest.mark.parametrize(("content", "words"), [
    (None, "there is no such file"), ("folder", "this is a folder"), (b"", "the file is empty"),
    (b"G1 X1\x00\x00\x01", "this is a binary file"), (b"\xff\xfeG\x00\x31", "not utf-16"),
    (b"X" * 100_000_000, "100,000,000 characters long"),
], ids=["missing", "folder", "empty", "binary", "broken utf-16", "a line of 100 MB"])
def test_a_program_that_cannot_be_read(tmp_path, content, words):
    job = write_job(tmp_path, SHORT)
    program = tmp_path / "face.nc"
    program.unlink()
    if content == "folder":
        program.mkdir()
    elif content is not None:
        program.write_bytes(content)
    with pytest.raises(JobError) as caught:
        read_job(job)
    (mistake,) = caught.value.mistakes
    assert (mistake.line, mistake.column, mistake.key_path) == (12, 11, "stages[1].program")
    assert words in mistake.message
    with pytest.raises(JobError) as bare:
        job_from_program(program, "flat 6")
    assert words in str(bare.value)


@pytest.mark.parametrize(("content", "words"), [
    (None, "there is no such file"), ("folder", "this is a folder"), (b"", "the file is empty"),
    (b"# \xe9\n" + SHORT.encode(), "line 1: byte 3 of the file is not UTF-8"), (b"a = \x00",
     "this is a binary file"),
    (b"#" + b"x" * 2_000_000, "2,000,001 characters long"), (b"a = " + b"[" * 20_000, "nested too deeply"),
    (b"a = " + b"9" * 5000, "not TOML"),
])
def test_a_job_file_that_cannot_be_read(tmp_path, content, words):
    path = tmp_path / "job.toml"
    if content == "folder":
        path.mkdir()
    elif content is not None:
        path.write_bytes(content)
    with pytest.raises(JobError, match=words) as caught:
        read_job(path)
    assert len(caught.value.mistakes) == 1


@pytest.mark.parametrize(("line", "column", "words"), [
    ("diameter = 25,4", 14, "write a decimal point, not a comma"),
    ("diameter = 25.4mm", 16, "write the number alone"),
    ('diameter = 1"', 13, "write the number alone"),
    ("diameter = .5", 12, "a digit on both sides of the point"),
    ("diameter = 007", 13, "no zero in front"),
    ("name = cutter", 8, "put a text in quotes"),
    ("centre_cutting = True", 18, "write true or false, in small letters"),
    ("diameter: 25.4", 9, "write key = value"),
    ("max rpm = 3", 5, "a key with blanks in it stands in quotes"),
    ("corner = { radius = 0.4,\n radius = 1 }", 10, "a line break inside { … }"),
    ("number = 2", 11, "a second time"),
    ('name = "open', 13, "not TOML"),
])
def test_slips_in_the_toml(tmp_path, line, column, words):
    text = SHORT.replace('shape = "facing"', line)
    with pytest.raises(JobError) as caught:
        read_job(write_job(tmp_path, text))
    (mistake,) = caught.value.mistakes
    assert words in mistake.message
    assert (mistake.line, mistake.column) == (7, column)


SLIPS = ["", "-", "[", "{", '"', "0", "=", ",", "true", "x", "\n"]


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_no_slip_of_a_finger_is_a_traceback(tmp_path_factory, data):
    """Any deletion, doubling or swap of a few signs reads or is told; nothing else is raised."""
    text = data.draw(st.sampled_from(TEXTS))
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text) - 2))
        end = at + data.draw(st.integers(0, 3))
        text = text[:at] + data.draw(st.sampled_from(SLIPS)) + text[end:]
    folder = tmp_path_factory.getbasetemp() / "slips"
    folder.mkdir(exist_ok=True)
    told = mistakes_in(write_job(folder, text))
    assert all(mistake.message for mistake in told)


def mistakes_in(path) -> tuple:
    try:
        read_job(path, KNOWN)
    except JobError as told:
        return told.mistakes or ("a job error without a mistake",)
    return ()


# --- no job file --------------------------------------------------------------------------------------

@pytest.mark.parametrize(("said", "shape", "diameter", "units"), [
    ("facing 25.4", "facing", 25.4, Units.MM), ("drill 9mm", "drill", 9.0, Units.MM),
    ("flat 1/4in", "flat", 6.35, Units.INCH), ("ball 0.5 in", "ball", 12.7, Units.INCH),
    (' Flat .5" ', "flat", 12.7, Units.INCH)])
def test_a_cutter_in_two_words(said, shape, diameter, units):
    cutter, unit = cutter_of(said)
    assert (cutter.shape, cutter.diameter, unit) == (shape, pytest.approx(diameter, abs=1e-12), units)


@pytest.mark.parametrize(("said", "words"), [
    ("", "say its shape and diameter"), ("25.4", "say its shape and diameter"), ("facing -3",
     "say its shape"),
    ("facng 3", 'did you mean "facing"?'), ("bull 6", "describe it in a job file"), ("flat 0",
     "a number over 0"),
    ("flat 1/0in", "a number over 0"), ("flat nan", "say its shape"), ("flat 1e9", "say its shape"),
    ("flat 99999999999", "a number over 0")])
def test_a_cutter_that_is_none(said, words):
    with pytest.raises(JobError, match="--cutter") as caught:
        cutter_of(said)
    assert words in str(caught.value)


def test_a_job_without_a_job_file(tmp_path):
    write_job(tmp_path, SHORT)
    job = job_from_program(tmp_path / "face.nc", "facing 1in")
    assert [(s.name, s.program) for s in job.stages] == [("face", "face.nc")]
    assert job.cutter(7) is job.cutters[0]
    assert job.cutter(None) is None
    assert job.units is Units.INCH
    assert [i.file for i in job.inputs] == ["face.nc"]


def reading_of(builder: MotionBuilder) -> Reading:
    return Reading(Source("face.nc", b"G0"), "union", builder.motion(), ())


def test_the_board_is_what_feeds_below_zero_sweep():
    """By hand: a line at Z-1 from (0, 0) to (100, 0), then a half turn about (100, 25) on its right."""
    job = job_with_cutter("flat 10")
    builder = MotionBuilder()
    builder.move(Move.RAPID, 1, (-500, 0, -3), (0, 0, 5))
    builder.move(Move.FEED, 2, (0, 0, 5), (0, 0, -1), feed=100)
    builder.move(Move.FEED, 3, (0, 0, -1), (100, 0, -1), feed=100)
    builder.arc(4, (100, 0, -1), (100, 50, -1), plane=17, centre=(100, 25), sweep=3.141592653589793, feed=100)
    builder.move(Move.FEED, 5, (100, 50, 1), (900, 50, 1), feed=100)
    board = with_swept_board(job, reading_of(builder)).board
    assert board.x == pytest.approx((-5, 130))
    assert board.y == pytest.approx((-5, 55))
    assert (board.top, board.thickness) == (0.0, None)


def test_a_program_with_no_known_place_has_no_board():
    builder = MotionBuilder()
    builder.move(Move.RAPID, 1, (float("nan"),) * 3, (0, 0, float("nan")))
    with pytest.raises(JobError, match="no move of this program has a known place"):
        with_swept_board(job_with_cutter("flat 10"), reading_of(builder))


def job_with_cutter(said: str) -> Job:
    tree = tomllib.loads(SHORT)
    cutter, _ = cutter_of(said)
    job = job_of(tree)
    return type(job)(board=job.board, cutters=(cutter,), stages=job.stages, one_cutter=True)


# --- mistakes that only a program shows ----------------------------------------------------------------

def test_a_mistake_found_later_has_its_place_too(tmp_path):
    job = read_job(write_job(tmp_path, WHOLE), KNOWN)
    path = ("stages", 0, "changes", 0, "at_stop")
    error = mistake_in(job, path, "stop 1 is never reached", "it never stops")
    (mistake,) = error.mistakes
    assert WHOLE.split("\n")[mistake.line - 1][mistake.column - 1:].startswith("1, remove")
    assert "stages[1].changes[1].at_stop: stop 1 is never reached; it never stops" in str(error)


def test_key_paths_count_from_one():
    assert shown(("cutters", 1, "corner", "radius")) == "cutters[2].corner.radius"
