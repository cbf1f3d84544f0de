"""Watching: other bytes start a check, a touch or a half written file does not, Ctrl-C ends it with the last
status."""

from __future__ import annotations

import os
from collections.abc import Callable

import pytest
from proveout.viewer import watching
from proveout.viewer.asked import Asked
from proveout.viewer.checking import Outputs
from proveout.viewer.watching import keep_checking, watched

from .shop import BROKEN, DEEP, JOB, PROGRAM, job_in


@pytest.fixture
def watch(tmp_path, monkeypatch):
    """Watches a job while a list of acts is done, one at each pause, then Ctrl-C; returns the status and how
    often it was checked."""
    path, checks = job_in(tmp_path), []

    def counted(paths, asked, outputs):
        checks.append(1)
        return real(paths, asked, outputs)

    real = watching.check_jobs
    monkeypatch.setattr(watching, "check_jobs", counted)

    def watching_while(*acts: Callable[[], object]) -> tuple[int, int]:
        left = list(acts)

        def sleep(seconds: float) -> None:
            if not left:
                raise KeyboardInterrupt
            left.pop(0)()

        return keep_checking([path], Asked(), Outputs(), sleep), len(checks)
    return watching_while


def nothing() -> None:
    pass


def test_other_bytes_start_a_check(tmp_path, watch, capsys):
    program = tmp_path / "face.nc"
    status, checks = watch(nothing, lambda: program.write_text(DEEP), nothing, nothing)
    assert (status, checks) == (1, 2)
    seen = capsys.readouterr()
    assert seen.out.startswith("NOTHING FOUND")
    assert "DO NOT RUN" in seen.out
    assert "changed: face.nc" in seen.err
    assert "watching ended" in seen.err


def test_a_touch_starts_none(tmp_path, watch):
    assert watch(lambda: os.utime(tmp_path / "face.nc", (1, 1)), nothing, nothing)[1] == 1


def test_it_waits_until_a_file_is_written_whole(tmp_path, watch):
    program, half = tmp_path / "face.nc", DEEP[:40]
    acts = (lambda: program.write_text(half), lambda: program.write_text(DEEP))
    status, checks = watch(*acts, nothing, nothing)
    assert (status, checks) == (1, 2)


def test_a_job_that_cannot_be_read_is_told_and_watched_on(tmp_path, watch, capsys):
    job = tmp_path / "job.toml"
    acts = (lambda: job.write_text(BROKEN), nothing, lambda: job.write_text(JOB))
    status, checks = watch(*acts, nothing, nothing)
    assert (status, checks) == (0, 3)
    assert "cutters[1].diameter: found -25.4" in capsys.readouterr().err


def test_a_program_that_comes_later_is_waited_for(tmp_path, watch, capsys):
    (tmp_path / "face.nc").unlink()
    status, checks = watch(lambda: (tmp_path / "face.nc").write_text(PROGRAM), nothing, nothing)
    assert (status, checks) == (0, 2)
    assert "no such file" in capsys.readouterr().err


def test_every_file_that_the_job_names_is_watched(tmp_path):
    path = job_in(tmp_path, JOB.replace("[board]", '[board]\nsurvey = "tops.csv"').replace(
        '"standard"', '"mine.toml"'))
    assert {file.name for file in watched([path])} == {"job.toml", "face.nc", "tops.csv", "mine.toml"}
