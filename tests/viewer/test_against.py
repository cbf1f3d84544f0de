"""An old result holds for the same bytes and the same version, and for nothing else."""

from __future__ import annotations

import hashlib
import json
from importlib.metadata import version
from pathlib import Path

import pytest
from proveout.viewer.against import held_against, hold_against, old_of, old_result, rows
from proveout.viewer.asked import Asked
from proveout.viewer.errors import Refused
from proveout.viewer.record import settings_of

from .shop import JOB, PROGRAM, job_in


def result_of(folder: Path, **more) -> dict:
    """A result file's part about inputs, its checksums made here (hashlib, FIPS 180-4)."""
    inputs = [{"file": name, "sha256": hashlib.sha256((folder / name).read_bytes()).hexdigest()}
              for name in ("job.toml", "face.nc")]
    return {"format": 1, "title": "", "verdict": "clear", "version": version("proveout"), "inputs": inputs,
            **more}


@pytest.fixture
def job(tmp_path) -> Path:
    return job_in(tmp_path / "a")


def test_the_same_bytes_still_hold(job):
    held = held_against(result_of(job.parent), job, Asked())
    assert (held.holds, held.status, set(held.same)) == (True, 0, {"job.toml", "face.nc"})


def test_a_result_that_said_stop_still_says_it(job):
    held = held_against(result_of(job.parent, verdict="stop"), job, Asked())
    assert (held.holds, held.status) == (True, 1)


@pytest.mark.parametrize("name", ["job.toml", "face.nc"])
def test_one_other_byte_and_it_holds_no_longer(job, name):
    old = result_of(job.parent)
    file = job.parent / name
    file.write_bytes(file.read_bytes() + b"\n")
    held = held_against(old, job, Asked())
    assert (held.holds, held.status) == (False, 1)
    assert [each[0] for each in held.changed] == [name]


def test_a_file_that_came_or_went(job):
    old = result_of(job.parent)
    (job.parent / "other.nc").write_text(PROGRAM)
    job.write_text(JOB.replace("face.nc", "other.nc"))
    held = held_against(old, job, Asked())
    assert (held.new, held.gone, held.holds) == (("other.nc",), ("face.nc",), False)


@pytest.mark.parametrize("made_by", ["0.0.1", None])
def test_another_version_holds_no_longer(job, made_by):
    old = result_of(job.parent, version=made_by)
    assert not held_against(old, job, Asked()).holds


@pytest.mark.parametrize(("then", "now", "told"), [
    (Asked(feed_knob="50:150"), Asked(feed_knob="50:150"), []),
    (Asked(feed_knob="50:150"), Asked(), [("--override", "50:150", "not given")]),
    (Asked(), Asked(feed_knob="80"), [("--override", "not given", "80:100")]),
    (Asked(speed_knob="50:120"), Asked(speed_knob="50:130"), [("--spindle-override", "50:120", "50:130")]),
    (Asked(values=("#500=3",)), Asked(values=("#500=3.5", "#501=1")),
     [("--set", "#500=3", "#500=3.5, #501=1")]),
    (Asked(steps=1000), Asked(), [("--steps", "1000", "not given")]),
    (Asked(stage="face"), Asked(), [])])
def test_what_a_check_is_told_besides_its_files_must_be_the_same(job, then, now, told):
    """The result file is written as a check writes it (but for the check itself)."""
    made = result_of(job.parent, settings=settings_of(then.load(job), then.knobs()),
                     stages=[{"name": "face"}])
    held = held_against(json.loads(json.dumps(made)), job, now)
    assert list(held.told) == told
    assert held.holds == (not told)
    assert [row.text for row in rows(held, job, Path("r.json")) if row.label == "TOLD"] == [
        f"{option}: was {was}, is {is_}" for option, was, is_ in told]


def test_a_program_alone_holds_for_its_cutter_and_its_number(job):
    program = job.parent / "face.nc"
    first = Asked(cutter="facing 25.4", number=1)
    made = result_of(job.parent, settings=settings_of(first.load(program), first.knobs()))
    made["inputs"] = made["inputs"][1:]
    assert held_against(made, program, first).holds
    other = held_against(made, program, Asked(cutter="facing 1.25in", number=2))
    assert other.told == (("--number", "1", "2"), ("--cutter", "facing 25.4mm", "facing 31.75mm"))


def test_a_result_of_one_stage_is_none_of_the_whole_job(job):
    made = result_of(job.parent, stages=[{"name": "face"}, {"name": "again"}])
    assert held_against(made, job, Asked()).told == (("--stage", "face, again", "face"),)


def test_what_it_says(job, tmp_path, capsys):
    file = tmp_path / "r.json"
    file.write_text(json.dumps(result_of(job.parent)))
    assert hold_against([job], file, Asked()) == 0
    assert capsys.readouterr().out.startswith("STILL HOLDS")
    (job.parent / "face.nc").write_text(PROGRAM.replace("F2000", "F1500"))
    assert hold_against([job], file, Asked()) == 1
    said = capsys.readouterr().out
    assert said.startswith("HOLDS NO LONGER")
    assert "CHANGED  face.nc: sha256 was" in said
    assert "safe" not in said.lower()


def test_one_of_many(job, tmp_path):
    mine = result_of(job.parent)
    many = {"jobs": [{"job": str(tmp_path / "b.toml"), "result": None}, {"job": str(job), "result": mine}]}
    assert old_of(many, job, tmp_path / "r.json", 1) is mine
    with pytest.raises(Refused, match="holds no result"):
        old_of(many, tmp_path / "b.toml", tmp_path / "r.json", 1)
    with pytest.raises(Refused, match="one job"):
        old_of(mine, job, tmp_path / "r.json", 2)


@pytest.mark.parametrize("text", ["", "no", "[1]", "{}", '{"inputs": [], "format": 2}', "\x00"])
def test_what_is_no_result_file(tmp_path, text):
    (tmp_path / "r.json").write_text(text)
    with pytest.raises(Refused, match=r"r\.json"):
        old_result(tmp_path / "r.json")


def test_inputs_that_are_none(job):
    with pytest.raises(Refused, match="inputs"):
        held_against({"inputs": [3]}, job, Asked())
