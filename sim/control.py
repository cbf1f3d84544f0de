"""The control that a job runs on: how it reads programs and goes at rapid, and the board of a program alone.

The law: read off the job and its dialect; where the job names none, every reading counts.
"""

from __future__ import annotations

from ..parser.bare_job import with_swept_board
from ..parser.dialect import Dialect, load_dialect
from ..parser.interpreter import read_program
from ..parser.job import Job
from .paths import RapidPath, rapid_speed
from .setup import Standing, setting_for


def with_board(job: Job) -> Job:
    """A job of one cutter and one program has the board that the program sweeps."""
    if not job.one_cutter:
        return job
    stage = job.stages[0]
    setting = setting_for(job, stage, Standing())
    return with_swept_board(job, read_program(job.sources[stage.name], dialect_of(job), setting))


def dialect_of(job: Job) -> Dialect:
    """The job's dialect, the union reading where it names none; a path's text is among the job's sources."""
    name = job.machine.dialect or "union"
    dialect = load_dialect(job.files[name].text, name=name) if name in job.files else load_dialect(name)
    return dialect if job.most_moves is None else dialect.with_values({"flow.max_moves": job.most_moves})


def rapid_path(job: Job, dialect: Dialect) -> RapidPath:
    """What the control does with a rapid."""
    return RapidPath(dialect["rapid.path"], rapid_speed(job.machine.rapid))
