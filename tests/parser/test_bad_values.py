"""Every value of a job file, replaced by values that it must not have: told at its line and key, never a
traceback, and never with anything that only follows from it.

Oracle for what must be refused: the JSON Schema of the job file, checked by tests/parser/json_schema.py.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path as File

import pytest
from proveout.parser.jobfile import read_job
from proveout.parser.jobschema import job_schema
from proveout.parser.mistakes import JobError, Mistake, shown
from proveout.parser.toml_places import KeyPlace, Path, places_of
from proveout.sim.fitting import KNOWN

from .job_texts import IN_PARTS, PARTS, SHORT, WHOLE, write_job
from .json_schema import plain, wrong

VALUES = ('"25.4 mm"', "-1", "0", "true", "[]", "{}", '"xyzzy"', "1e9", "2026-01-01", "[[1]]", "nan", '""',
          "[1, 2, 3, 4]", '"-1"', "{ x = 1 }", "-inf", '"  "', "[{}]", "1e300", "[nan, 1]", "1" + 30 * "0")
TEXTS = {"whole": WHOLE, "parts": PARTS, "in parts": IN_PARTS, "short": SHORT}


def replaced(text: str) -> Iterator[tuple[Path, KeyPlace, str, str]]:
    """(key path, place, value, text) with a few values at each place, other ones from place to place."""
    starts = [0]
    for line in text.split("\n"):
        starts.append(starts[-1] + len(line) + 1)
    number = 0
    for path, place in places_of(text).items():
        if not place.text:
            continue
        start = starts[place.value.line - 1] + place.value.column - 1
        assert text[start:start + len(place.text)] == place.text
        for _ in range(2):
            value = VALUES[number % len(VALUES)]
            yield path, place, value, text[:start] + value + text[start + len(place.text):]
            number += 3 if number % 7 else 4


@pytest.mark.parametrize("name", TEXTS)
def test_a_wrong_value_is_told_at_its_key_and_line(tmp_path, name):
    schema, refused = job_schema(), 0
    for path, place, value, text in replaced(TEXTS[name]):
        job = write_job(tmp_path, text)
        tree = tomllib.loads(text)
        must = bool(wrong(plain(tree), schema, schema)) or "nan" in value or "inf" in value
        told = mistakes(job)
        refused += bool(told)
        assert all(m.line and m.file and m.found for m in told), (path, value)
        here = [m for m in told if m.key_path.startswith(shown(path)) or m.line == place.value.line]
        assert here or not must, (path, value, told)
    assert refused > 20


def mistakes(job: File) -> tuple[Mistake, ...]:
    """All that is wrong with a job file; none where it is read."""
    try:
        read_job(job, KNOWN)
    except JobError as bad:
        return bad.mistakes
    return ()


# one wrong value, and all that is said about it: nothing that only follows from it
ALONE = [
    ('name = "dowels", diameter = 8', 'name = 3, diameter = 8', ["bed.openings[3].name"]),
    ("number = 1\nname", "number = -1\nname", ["cutters[1].number"]),
    ('name = "edge screws"', "name = true", ["fasteners[1].name"]),
    ('name = "front"\nx = [200', 'name = ""\nx = [200', ["clamps[1].name"]),
    ('name = "drill"\nprogram', 'name = []\nprogram', ["stages[1].name"]),
    ("at = [[40, 40], [440, 40]]", "at = [[40, true], [440, 40]]", ["fasteners[1].at[1][2]"]),
    ("thickness = 19.0\n", "thickness = -19.0\n", ["board.thickness"]),
    ("cutter = 2\nrpm", 'cutter = "2"\nrpm', ["stages[1].cutter"]),
    ('fitted = ["edge screws", "middle screws"]', 'fitted = ["edge screws", 3]', ["stages[2].fitted[2]"]),
    ('cut_by = "drill"', "cut_by = 1", ["fasteners[2].recess.cut_by"]),
]


@pytest.mark.parametrize(("right", "bad", "told"), ALONE)
def test_what_only_follows_is_not_told(tmp_path, right, bad, told):
    assert right in WHOLE
    with pytest.raises(JobError) as error:
        read_job(write_job(tmp_path, WHOLE.replace(right, bad, 1)), KNOWN)
    assert [m.key_path for m in error.value.mistakes] == told


def test_all_of_these_at_once(tmp_path):
    """Each alone is told; so are all of them together, in the file's order."""
    text, keys = WHOLE, []
    for right, bad, told in (ALONE[0], ALONE[5], ALONE[6], ALONE[9]):
        text, keys = text.replace(right, bad, 1), keys + told
    with pytest.raises(JobError) as error:
        read_job(write_job(tmp_path, text), KNOWN)
    assert {m.key_path for m in error.value.mistakes} == set(keys)
    lines = [m.line for m in error.value.mistakes]
    assert lines == sorted(lines)


@pytest.mark.parametrize(("right", "bad", "words"), [
    ("diameter = 32\n", 'diameter = "32 mm"\n', "give a number over 0, without quotes and unit"),
    ("edges = 2\n", "edges = '2'\n", "without quotes and unit"),
    ("format = 1\n", "format = true\n", "found true; give 1"),
    ("diameter = 32\n", "diameter = 812.8\n", "found 812.8: a cutter of 812.8 mm; none is more than 300 mm"),
    ("thickness = 19.0\n", "thickness = 0.75\n", 'none is less than 1 mm; is units = "inch" meant?'),
    ("x = [0, 500]\ny = [0, 400]\ntop", "x = [0, 19685]\ny = [0, 400]\ntop", "none is more than 10000 mm"),
])
def test_numbers_in_another_unit_and_in_quotes(tmp_path, right, bad, words):
    assert right in WHOLE
    with pytest.raises(JobError) as error:
        read_job(write_job(tmp_path, WHOLE.replace(right, bad, 1)), KNOWN)
    assert any(words in m.message for m in error.value.mistakes), str(error.value)


def test_a_millimetre_job_that_says_inch(tmp_path):
    """Every size of it is told, and which unit is meant."""
    with pytest.raises(JobError) as error:
        read_job(write_job(tmp_path, 'units = "inch"\n' + SHORT.replace("300", "600").replace("200", "400")))
    told = {m.key_path: m.message for m in error.value.mistakes}
    assert set(told) == {"board.x", "board.y", "cutters[1].diameter"}
    assert all('is units = "mm" meant?' in each for each in told.values())
    assert "a board of 600 in = 15240 mm; none is more than 393.7 in" in told["board.x"]


# --- every key misspelt, and every key twice -----------------------------------------------------------

def misspelt(text: str) -> Iterator[tuple[KeyPlace, str, str, str]]:
    """(place, key, how it is misspelt, text) with two letters of a key swapped, of each key once."""
    lines, done = text.split("\n"), set()
    for path, place in places_of(text).items():
        key = path[-1]
        if not isinstance(key, str) or not place.text or key in done or key.startswith("G") or len(key) < 3:
            continue
        done.add(key)
        n, at = len(key) // 2, place.key.column - 1
        slip = key[:n - 1] + key[n] + key[n - 1] + key[n + 1:]
        slip = slip if slip != key else key[:n] + key[n + 1:]
        line = lines[place.key.line - 1]
        assert line[at:at + len(key)] == key
        changed = [*lines]
        changed[place.key.line - 1] = line[:at] + slip + line[at + len(key):]
        yield place, key, slip, "\n".join(changed)


@pytest.mark.parametrize("name", TEXTS)
def test_a_misspelt_key_is_told_with_the_one_that_was_meant(tmp_path, name):
    """And nothing else is said: what it holds goes on under the name that was meant."""
    for place, key, slip, text in misspelt(TEXTS[name]):
        (told,) = mistakes(write_job(tmp_path, text))
        assert (told.line, told.column) == (place.key.line, place.key.column), key
        assert told.message.endswith(f'unknown key; did you mean "{key}"?'), (slip, told.message)


def test_a_key_twice_is_told_at_its_second_place(tmp_path):
    lines = WHOLE.split("\n")
    for number, line in enumerate(lines):
        if " = " in line and not line.startswith(" ") and not line.endswith("["):
            twice = "\n".join([*lines[:number + 1], line, *lines[number + 1:]])
            (told,) = mistakes(write_job(tmp_path, twice))
            assert told.line == number + 2
            assert "a second time" in told.message


# --- what cannot be meant -------------------------------------------------------------------------------

SENSE = [  # text, right, wrong, key, words
    (WHOLE, "z = -0.5, ", "z = 0.5, ", "stages[2].face.z",
     "above the board's top (0); give a Z under it (a cut of 0.4 leaves -0.4)"),
    (WHOLE, "top = -19.0", "top = 19.0", "bed.top", "above the board's underside (-19)"),
    (WHOLE, "keep = 6.0", "keep = 60", "board.keep", "give less than the board's thickness (19)"),
    (WHOLE, "brush = -35", "brush = 35", "machine.shoe.brush", "above the hard part (-5)"),
    (WHOLE, "to = [-10, 400]", "to = [-10, 0]", "clamps[3].to", "where the bar begins"),
    (WHOLE, "cell = 0.5", "cell = 5", "board.cell", "less than half of the narrowest cutter (6.6)"),
    (WHOLE, "at = [[40, 40], [440, 40]]", "at = [[40, 40], [440, 40], [40.5, 40]]", "fasteners[1].at[3]",
     "nearly the same as place 1"),
    (WHOLE, "[[0, 0], [3, 0.5], [6, 4]]", "[[0, 0], [0, 4]]", "cutters[4].profile", "from the tip outward"),
    (WHOLE, "{ date = 2025-11-20, depth = 0.5, thickness = 19.5 }", "{ date = 2025-11-20 }",
     "board.history[1]", "give depth or thickness"),
    (WHOLE, "date = 2025-11-20", "date = 0", "board.history[1].date", "a date, as 2026-03-02"),
    (WHOLE, 'reason = "air cut at the edge"', 'reason = "   "', "stages[2].quiet[1].reason", "not empty"),
    (WHOLE, "nose = [ { diameter = 40, length = 22 }, { diameter = 80, length = 55 } ]", "nose = []",
     "machine.nose", "leave the key out, or put one or more in"),
    (WHOLE, "{ x = [0, 760], y = [0, 980], z = [-110, 0] }", "{}", "machine.travel", "give one of: x; y; z"),
    (IN_PARTS, 'parts = ["back"]', "parts = []", "stages[1].parts", "found [], which says nothing"),
]


@pytest.mark.parametrize(("text", "right", "bad", "key", "words"), SENSE, ids=[each[3] for each in SENSE])
def test_what_cannot_be_meant_is_told_at_its_key(tmp_path, text, right, bad, key, words):
    assert right in text
    (told,) = mistakes(write_job(tmp_path, text.replace(right, bad, 1)))
    assert told.key_path == key
    assert words in told.message


def test_no_parts_at_all_are_no_board(tmp_path):
    (told,) = mistakes(write_job(tmp_path, SHORT.replace("x = [0, 300]\ny = [0, 200]", "parts = []")))
    assert (told.key_path, told.line) == ("board.parts", 2)
    assert "one or more" in told.message
