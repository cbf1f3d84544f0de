"""`proveout check`: jobs in, first screens and files out.

The law: everything is checked before anything is written; a picture that cannot be drawn costs a
sentence, never the verdict.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from .bar import bar
from .errors import Refused, place_for
from .first_run import prepare
from .known import parameters

if TYPE_CHECKING:
    from ..parser.job import Job
    from ..sim.result import Result


@dataclass(frozen=True)
class Outputs:
    """The files that were asked for; `json` may be "-"."""

    json: str | None = None
    picture: Path | None = None
    surface: Path | None = None
    page: Path | None = None

    def __bool__(self) -> bool:
        return any((self.json, self.picture, self.surface, self.page))


def check_jobs(paths: Sequence[Path], cutter: str | None, stage: str | None, outputs: Outputs,
               everything: bool = False, values: Sequence[str] = (), number: int | None = None,
               threads: int | None = None) -> int:
    """Check every job, show its report, write what was asked for; the exit status (0 or 1)."""
    if outputs and len(paths) > 1:
        raise Refused("--json, --page, --picture and --save-surface take one job at a time")
    for option, path in (("--json", outputs.json), ("--picture", outputs.picture),
                         ("--save-surface", outputs.surface), ("--page", outputs.page)):
        place_for(path, option)
    results = [check_one(path, cutter, stage, values, number, threads) for path in paths]
    for number, result in enumerate(results):
        if number:
            print()
        show_report(result, everything, to_error=outputs.json == "-")
    for result in results:
        write_outputs(result, outputs)
    return max(status(result) for result in results)


def check_one(path: Path, cutter: str | None = None, stage: str | None = None,
              values: Sequence[str] = (), number: int | None = None, threads: int | None = None) -> Result:
    """Read and verify one job; with `stage`, report that stage alone. `values` ("#500=3") are what only the
    machine knows, `number` the O number to run where no job file says it, `threads` how many cut at once.
    Raises what `input_error` words."""
    known = parameters(values)
    job = replace(load(path, cutter), known=known)
    if number is not None:
        job = numbered(job, number)
    if stage is not None:
        job = up_to(job, stage)
    prepare()
    with bar(f"Checking {path.name}") as tell:
        from ..sim.verify import verify
        result = verify(job, threads=threads, progress=tell)
    return result if stage is None else only(result, stage)


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


def only(result: Result, stage: str) -> Result:
    """What the result says about its last stage, and about the job as a whole."""
    return replace(result, findings=tuple(f for f in result.findings if f.stage in ("", stage)),
                   stages=result.stages[-1:], records=result.records[-1:])


def status(result: Result) -> int:
    """1 when a finding of severity stop stands, else 0."""
    from ..sim.result import Verdict
    return int(result.verdict is Verdict.STOP)


def show_report(result: Result, everything: bool = False, to_error: bool = False) -> None:
    """The first screen: with tones on a terminal, plain and 80 columns wide anywhere else."""
    from .layout import plain, show
    from .terminal import report
    stream, rows = sys.stderr if to_error else sys.stdout, report(result, everything=everything)
    if not stream.isatty():
        stream.write(plain(rows, 80))
        return
    from rich.console import Console
    show(rows, Console(file=stream))


def write_outputs(result: Result, outputs: Outputs) -> None:
    """Write the files, each whole; a picture that cannot be drawn is said on standard error."""
    from .record import as_json, record, write_text
    if outputs.surface is not None:
        (result.kept or result.surface).save(outputs.surface)
    if outputs.json is not None:
        write_text(outputs.json, as_json(record(result)))
    if outputs.page is not None:
        from .page import page_of
        write_text(str(outputs.page), page_of(result))
    if outputs.picture is not None:
        draw_or_say(result, outputs.picture)


def draw_or_say(result: Result, path: Path) -> bool:
    """Draw the picture; where that fails, say why on standard error. Whether it is there."""
    from .picture import NoPicture, draw
    try:
        with bar("Drawing the picture"):
            draw(result, path)
    except NoPicture as why:
        print(f"proveout: {why}", file=sys.stderr)
        return False
    return True
