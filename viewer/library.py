"""`proveout check JOB… --workers N`: a shop's whole library, a line a job, the worst first, one result file.

The law: every job that was named has its line and its place in the file, whatever became of it. Exit status:
2 where one could not be used, else 1 where one must not be run, else 0.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from .asked import Asked
from .bar import bar
from .checking import Outputs, check_places, show_rows
from .errors import Refused
from .first_run import prepare
from .job_files import jobs_in
from .layout import Row
from .many import hands, outcomes
from .outcomes import ORDER, UNUSED, Outcome

LABEL = 13  # columns of the longest verdict
WORDS = {UNUSED: "NOT CHECKED", "stop": "DO NOT RUN", "caution": "LOOK FIRST", "clear": "NOTHING FOUND"}
TONES = {UNUSED: "stop", "stop": "stop", "caution": "caution", "clear": ""}


def check_library(paths: Sequence[Path], asked: Asked, outputs: Outputs, workers: int | None,
                  cluster: str | None) -> int:
    """Check every job, show a line for each, write the one result file; the exit status."""
    if outputs.page or outputs.picture or outputs.surface or outputs.along or asked.stage:
        raise Refused("many jobs make one result file: with --workers or --cluster only --json goes")
    check_places(outputs)
    jobs, knobs = jobs_in(paths), asked.knobs()
    if cluster is None:
        prepare()
    with hands(workers, cluster, asked.threads) as (executor, threads), bar("Checking jobs") as tell:
        found = []
        for outcome in outcomes(executor, jobs, asked, knobs, threads):
            found.append(outcome)
            tell(f"{len(found)} of {len(jobs)} jobs", len(found) / len(jobs))
    found.sort(key=lambda each: each.fear)
    show_rows(rows(found), to_error=outputs.json == "-")
    if outputs.json is not None:
        from .record import as_json
        from .writing import write_text
        write_text(outputs.json, as_json(library_record(found)))
    return 2 if any(each.verdict == UNUSED for each in found) else int(any(each.stops for each in found))


def rows(found: Sequence[Outcome]) -> Iterator[Row]:
    """A line for each job, the worst first, then how many there are of each kind."""
    for each in found:
        counts = ((each.stops, "stop"), (each.cautions, "look"))
        reasons = [f"{count} {word}" for count, word in counts if count]
        head = f"{each.job}: " + (f"{', '.join(reasons)}; " if reasons else "")
        said = each.said.splitlines()[0] if each.said else f"{each.unchecked} not checked"
        said = said.removeprefix(f"{each.job}:").lstrip()
        yield Row(WORDS[each.verdict].ljust(LABEL), head + said, TONES[each.verdict], one_line=True)
    yield Row()
    counts = [(sum(each.verdict == verdict for each in found), WORDS[verdict]) for verdict in ORDER]
    jobs = "1 job" if len(found) == 1 else f"{len(found)} jobs"
    yield Row("", f"{jobs}: " + ", ".join(f"{count} {word}" for count, word in counts if count))
    yield Row("", "proveout check JOB shows one in full. The files were seen, the machines were not: run "
                  "each program in the air first.")


def library_record(found: Sequence[Outcome]) -> dict[str, Any]:
    """The one result file: `jobs`, the worst first, each with its own result, or with why there is none."""
    return {"format": 1, "version": version("proveout"), "jobs": [
        {"job": each.job, "verdict": None if each.verdict == UNUSED else each.verdict,
         "error": each.said if each.verdict == UNUSED else None, "result": each.record} for each in found]}
