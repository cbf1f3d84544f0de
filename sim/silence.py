"""What a stage silences: kinds of finding that the job says do not matter there, each with its reason.

The law: nothing is silenced without being said. A strike, a rapid in material and travel are never silenced:
the job file is refused where it tries to, and here they go through all the same.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..parser.finding import Finding
from ..parser.job import Job
from ..parser.jobsense import SILENT_NEVER
from .result import Quieted


def silenced(job: Job, findings: Sequence[Finding]) -> tuple[list[Finding], tuple[Quieted, ...]]:
    """The findings that stay, in their order, and what each `quiet` of each stage took away."""
    reasons = {(stage.name, quiet.kind): quiet.reason for stage in job.stages for quiet in stage.quiet
               if quiet.kind not in SILENT_NEVER}
    gone = [found for found in findings if (found.stage, found.kind) in reasons]
    stay = [found for found in findings if (found.stage, found.kind) not in reasons]
    return stay, tuple(_quieted(key, reason, gone) for key, reason in reasons.items())


def _quieted(key: tuple[str, str], reason: str, gone: Sequence[Finding]) -> Quieted:
    stage, kind = key
    mine = [found for found in gone if (found.stage, found.kind) == key]
    return Quieted(stage, kind, reason, sum(found.count for found in mine),
                   max((found.severity for found in mine), default=None))
