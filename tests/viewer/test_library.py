"""A library of jobs: a line each, the worst first, one file; whatever is wrong with one, the others go on."""

from __future__ import annotations

import json
import os
import pickle
from concurrent.futures import ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest
from proveout.parser import read_job
from proveout.sim import Knobs
from proveout.viewer import many
from proveout.viewer.asked import Asked
from proveout.viewer.errors import Refused
from proveout.viewer.job_files import jobs_in, the_job
from proveout.viewer.library import library_record, rows
from proveout.viewer.many import outcomes, processes
from proveout.viewer.outcomes import Outcome, outcome_of

from .shop import BROKEN, DEEP, JOB, PROGRAM, job_in, proveout

LINES = ["NOT CHECKED", "DO NOT RUN", "NOTHING FOUND"]


@pytest.fixture
def library(tmp_path) -> Path:
    job_in(tmp_path / "fine")
    job_in(tmp_path / "deep", program=DEEP)
    job_in(tmp_path / "broken", job=BROKEN)
    (tmp_path / "mine.toml").write_text('inherits = "standard"\n')  # a dialect is no job
    return tmp_path


def test_a_folder_stands_for_its_jobs(library):
    assert [path.parent.name for path in jobs_in([library])] == ["broken", "deep", "fine"]
    assert len(jobs_in([library, library / "fine" / "job.toml"])) == 3
    (library / "empty").mkdir()
    with pytest.raises(Refused, match="no job file"):
        jobs_in([library / "empty"])


def test_a_folder_of_one_job_is_that_job(library):
    assert the_job(library / "fine") == library / "fine" / "job.toml"
    with pytest.raises(Refused, match="3 job files"):
        the_job(library)
    one, itself = (proveout("check", name, cwd=library) for name in ("fine", "fine/job.toml"))
    assert (one.returncode, one.stdout) == (0, itself.stdout)
    assert len(one.stdout.splitlines()) > 10


def test_a_folder_of_many_is_a_line_each(library):
    seen = proveout("check", ".", cwd=library)
    assert seen.returncode == 2, seen.stderr
    assert [line.split("  ")[0] for line in seen.stdout.splitlines()[:3]] == LINES


def test_two_processes_a_line_each_and_one_file(library):
    seen = proveout("check", "fine/job.toml", "deep/job.toml", "broken/job.toml", "--workers", 2,
                    "--json", "all.json", cwd=library)
    assert seen.returncode == 2, seen.stderr
    lines = seen.stdout.splitlines()
    assert [line.split("  ")[0] for line in lines[:3]] == LINES
    assert max(map(len, lines)) <= 80
    assert "cutters[1].diameter" in lines[0]
    written = json.loads((library / "all.json").read_text(encoding="utf-8"))
    assert [job["verdict"] for job in written["jobs"]] == [None, "stop", "clear"]
    assert "-25.4" in written["jobs"][0]["error"]
    assert [len(job["result"]["inputs"]) for job in written["jobs"][1:]] == [2, 2]
    again = proveout("check", "deep/job.toml", "--against", "all.json", cwd=library)
    assert (again.returncode, again.stdout[:11]) == (1, "STILL HOLDS")


def test_the_same_outcome_as_one_check(library):
    """The pure function gives what `check --json` gives, and it can be sent anywhere."""
    job = read_job(library / "deep" / "job.toml")
    outcome = outcome_of("x", job, Knobs())
    assert pickle.loads(pickle.dumps(outcome)) == outcome
    assert outcome.verdict == "stop"
    assert outcome.record is not None
    alone = proveout("check", library / "deep" / "job.toml", "--json", "-")
    assert json.loads(alone.stdout) == json.loads(json.dumps(outcome.record))


def test_a_surprise_is_an_outcome(library, monkeypatch):
    monkeypatch.setattr("proveout.sim.bench.Bench.set_up", None)
    outcome = outcome_of("x", read_job(library / "fine" / "job.toml"), Knobs())
    assert outcome.verdict == "unused"
    assert "proveout itself failed" in outcome.said


class Dying(ThreadPoolExecutor):
    """A pool whose process dies on its second job, and with it all that it has."""

    def submit(self, fn, *args, **more):
        future = super().submit(fn, *args, **more)
        if "deep" in str(args[0]):
            future = super().submit(_die)
        return future


def _die():
    raise BrokenProcessPool("gone")


def test_a_process_that_dies_takes_no_other_job_with_it(library, monkeypatch):
    monkeypatch.setattr(many, "processes", lambda count: Dying(count))
    found = list(outcomes(Dying(1), jobs_in([library]), Asked(), Knobs(), 1))
    assert {Path(each.job).parent.name: each.verdict for each in found} == {
        "broken": "unused", "deep": "unused", "fine": "clear"}
    assert any("memory runs out" in each.said for each in found)


def test_a_real_process_that_dies():
    with processes(1) as executor, pytest.raises(BrokenProcessPool):
        executor.submit(os._exit, 3).result()


def test_the_worst_comes_first():
    made = [Outcome("a", "clear"), Outcome("b", "stop", 1), Outcome("c", "caution", 0, 2),
            Outcome("d", "unused"), Outcome("e", "stop", 3), Outcome("f", "caution", 0, 5)]
    assert [each.job for each in sorted(made, key=lambda each: each.fear)] == ["d", "e", "b", "f", "c", "a"]
    said = [row.text for row in rows(made)]
    assert said[-2] == "6 jobs: 1 NOT CHECKED, 2 DO NOT RUN, 2 LOOK FIRST, 1 NOTHING FOUND"
    assert [each["error"] for each in library_record(made)["jobs"]] == [None, None, None, "", None, None]


@pytest.mark.parametrize("option", ["--page", "--picture", "--save-surface"])
def test_what_does_not_go_with_many(library, option):
    seen = proveout("check", library, "--workers", 1, option, "x.out", cwd=library)
    assert seen.returncode == 2
    assert "only --json" in seen.stderr


def test_over_a_local_cluster(library):
    """The same function over Dask's own local cluster."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=None,
                                  protocol="tcp", processes=True) as cluster:
        seen = proveout("check", ".", "--cluster", cluster.scheduler_address, cwd=library)
    assert seen.returncode == 2, seen.stderr
    assert [line.split("  ")[0] for line in seen.stdout.splitlines()[:3]] == LINES


def test_a_worker_of_another_version_is_refused():
    pytest.importorskip("distributed")
    from proveout.viewer.cluster import installed, same_version
    same_version({"tcp://a": installed()}, "here")
    with pytest.raises(Refused, match=r"tcp://b has proveout 0\.0\.0"):
        same_version({"tcp://a": installed(), "tcp://b": "0.0.0"}, "here")
    with pytest.raises(Refused, match="no workers"):
        same_version({}, "here")


def test_a_bare_program_can_be_one_of_many(tmp_path):
    job_in(tmp_path, JOB, PROGRAM)
    seen = proveout("check", "face.nc", "--cutter", "facing 25.4", "--workers", 1, cwd=tmp_path)
    assert seen.returncode in (0, 1), seen.stderr
    assert "face.nc" in seen.stdout
