"""One job in, its outcome out: the pure function that a shop's library is mapped with.

The law: it opens nothing, prints nothing, keeps nothing and always returns; what goes in and comes out can be
pickled. A job that cannot be used has an outcome like any other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .errors import input_error

if TYPE_CHECKING:
    from ..parser.job import Job
    from ..sim.knobs import Knobs

UNUSED = "unused"  # stands where a verdict would
ORDER = (UNUSED, "stop", "caution", "clear")


@dataclass(frozen=True)
class Outcome:
    """What one job came to. `said`: its worst reason, or why it could not be used; `record`: as a result file
    has it, None where there is none."""

    job: str
    verdict: str
    stops: int = 0
    cautions: int = 0
    unchecked: int = 0
    said: str = ""
    record: dict[str, Any] | None = None

    @property
    def fear(self) -> tuple[int, int, int, str]:
        """Sort key: the worst first."""
        return ORDER.index(self.verdict), -self.stops, -self.cautions, self.job


def outcome_of(name: str, job: Job, knobs: Knobs, threads: int | None = None) -> Outcome:
    """Verify a job that was read. It opens nothing, prints nothing and always returns."""
    try:
        from ..sim.verify import verify
        from .record import record
        result = verify(job, threads=threads, knobs=knobs)
        return summed_up(name, record(result), len(result.unchecked))
    except Exception as failed:
        return not_used(name, failed)


def summed_up(name: str, made: dict[str, Any], unchecked: int) -> Outcome:
    """The outcome that a record stands for."""
    severities = [each["severity"] for each in made["findings"]]
    said = ""
    if made["findings"]:
        worst = made["findings"][0]
        line = f" {worst['line']}" if worst["line"] else ""
        said = f"{worst['program'] or 'job'}{line}: {worst['message']}"
    return Outcome(name, made["verdict"], severities.count("stop"), severities.count("caution"), unchecked,
                   said, made)


def not_used(name: str, failed: BaseException) -> Outcome:
    """The outcome of a job that could not be used, or that proveout itself failed on."""
    said = input_error(failed) or f"proveout itself failed ({type(failed).__name__}: {failed})"
    return Outcome(name, UNUSED, said=said)
