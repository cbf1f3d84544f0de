"""What was asked for on the command line, and the job that it means.

The law: an option that makes no sense is refused before any work, with what would do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import Refused
from .known import parameters

if TYPE_CHECKING:
    from ..parser.job import Job
    from ..sim.knobs import Knobs

RANGE = re.compile(r"\s*(\d+\.?\d*)\s*%?\s*(?:[:-]\s*(\d+\.?\d*)\s*%?\s*)?")
MOST_PERCENT = 1000.0


@dataclass(frozen=True)
class Asked:
    """How jobs are to be checked.

    cutter: of a program with no job file · stage: the one to report · everything: in full · feed_knob,
    speed_knob: how far the operator may turn them ("50:150") · values: what only the machine knows ("#500=3")
    · number: the O number to run where no job file says it · threads: how many cut at once · steps: the most
    moves of a program.
    """

    cutter: str | None = None
    stage: str | None = None
    everything: bool = False
    feed_knob: str | None = None
    speed_knob: str | None = None
    values: tuple[str, ...] = ()
    number: int | None = None
    threads: int | None = None
    steps: int | None = None

    def knobs(self) -> Knobs:
        """Raises Refused for a range that is none."""
        from ..sim.knobs import Knobs
        return Knobs(knob(self.feed_knob, "--override"), knob(self.speed_knob, "--spindle-override"))

    def load(self, path: Path) -> Job:
        """The job that is meant. Raises Refused and what reading it raises."""
        job = replace(load(path, self.cutter), known=parameters(self.values), most_moves=self.steps)
        if self.number is not None:
            job = numbered(job, self.number)
        return job if self.stage is None else up_to(job, self.stage)


def knob(said: str | None, option: str) -> tuple[float, float] | None:
    """ "50:150" as two percentages; "120" is from 100 to it. Raises Refused."""
    if said is None:
        return None
    found = RANGE.fullmatch(said)
    low, high = (sorted((float(found[1]), float(found[2] or 100))) if found else (0.0, 0.0))
    if not 0 < low <= high <= MOST_PERCENT:
        raise Refused(f'{option} {said}: give the lowest and the highest setting of the knob in percent, '
                      f'over 0 and no more than {MOST_PERCENT:.0f}, for example "50:150"')
    return low, high


def load(path: Path, cutter: str | None) -> Job:
    """The job file, or the job that a program and a cutter make."""
    from ..parser.jobfile import job_from_program, read_job
    if cutter is not None:
        return job_from_program(path, cutter)
    if path.suffix.lower() != ".toml" and path.is_file():
        raise Refused(f"{path}: a job file ends in .toml; to check a program with no job file, "
                      'say which cutter it uses, for example --cutter "facing 25.4"')
    from ..sim.fitting import KNOWN
    return read_job(path, KNOWN)


def numbered(job: Job, number: int) -> Job:
    """The job of a program alone, with the number of the program to run. Raises Refused where a job file is
    to say that."""
    if not job.one_cutter:
        raise Refused(f"--number goes with --cutter; in a job file write number = {number} in the stage")
    return replace(job, stages=(replace(job.stages[0], number=number),))


def up_to(job: Job, stage: str) -> Job:
    """The job with the stages after `stage` left out. Raises Refused for a name that it does not have."""
    names = [each.name for each in job.stages]
    if stage not in names:
        raise Refused(f'--stage "{stage}": the job\'s stages are {", ".join(names)}')
    return replace(job, stages=job.stages[:names.index(stage) + 1])
