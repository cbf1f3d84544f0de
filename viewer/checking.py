"""`proveout check`: jobs in, first screens and files out.

The law: everything is checked before anything is written; a picture that cannot be drawn costs a
sentence, never the verdict.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from .asked import Asked
from .bar import bar
from .errors import Refused, place_for
from .first_run import prepare
from .look import Look
from .plain_text import clean_lines

if TYPE_CHECKING:
    from ..sim.result import Result
    from .layout import Row
    from .section_file import Way


@dataclass(frozen=True)
class Outputs:
    """The files that were asked for; `json` may be "-". along: the lines of sections, as written."""

    json: str | None = None
    picture: Path | None = None
    surface: Path | None = None
    page: Path | None = None
    mesh: Path | None = None
    heights: Path | None = None
    look: Look = field(default_factory=Look)
    along: tuple[str, ...] = ()
    sections: Path | None = None

    @property
    def named(self) -> tuple[tuple[str, str | Path | None], ...]:
        """Each option that writes a file, and where it was asked to."""
        return (("--json", self.json), ("--page", self.page), ("--picture", self.picture),
                ("--save-surface", self.surface), ("--save-mesh", self.mesh),
                ("--save-heights", self.heights), ("--save-section", self.sections))

    @property
    def ways(self) -> tuple[Way, ...]:
        """The lines along which sections are asked for. Raises Refused."""
        if not self.along:
            return ()
        from .section_file import ways_of
        return ways_of(self.along)

    def __bool__(self) -> bool:
        return any(path for _, path in self.named)


def check_jobs(paths: Sequence[Path], asked: Asked, outputs: Outputs) -> int:
    """Check every job, show its report, write what was asked for; the exit status (0 or 1)."""
    if outputs and len(paths) > 1:
        raise Refused("--json, --page, --picture and --save-… take one job at a time; with --workers, "
                      "--json takes many")
    check_places(outputs)
    results = [check_one(path, asked) for path in paths]
    for number, result in enumerate(results):
        if number:
            print()
        show_report(result, asked.everything, to_error=outputs.json == "-", ways=outputs.ways)
    for result in results:
        write_outputs(result, outputs)
    return max(status(result) for result in results)


def resume_job(paths: Sequence[Path], asked: Asked, outputs: Outputs, line: int) -> int:
    """Check one job and say how to go on at a line of a stage; the exit status (0 or 1)."""
    if len(paths) > 1 or outputs:
        raise Refused("--resume takes one job, and writes no file")
    result = check_one(paths[0], asked)
    if len(result.stages) > 1:
        names = ", ".join(stage.name for stage in result.stages)
        raise Refused(f"--resume {line}: say in which stage, with --stage; the job's stages are {names}")
    from .resume_rows import resume_rows
    from .terminal import closing_rows, verdict_rows
    show_rows([*verdict_rows(result), *resume_rows(result, line), *closing_rows(result)])
    return status(result)


def check_places(outputs: Outputs) -> None:
    """Raises Refused when a file that was asked for cannot be written: told before the work."""
    for option, path in outputs.named:
        place_for(path, option)
    if not outputs.ways and outputs.sections is not None:
        raise Refused(f'--save-section {outputs.sections}: say along which line, for example '
                      '--section "0,100:600,100"')
    fit_names(outputs)


def check_one(path: Path, asked: Asked = Asked()) -> Result:  # noqa: B008
    """Read and verify one job; with a stage, report that stage alone. Raises what `input_error` words."""
    job, knobs = asked.load(path), asked.knobs()
    prepare()
    with bar(f"Checking {path.name}") as tell:
        from ..sim.verify import verify
        result = verify(job, threads=asked.threads, progress=tell, knobs=knobs)
    return result if asked.stage is None else only(result, asked.stage)


def only(result: Result, stage: str) -> Result:
    """What the result says about its last stage, and about the job as a whole."""
    return replace(result, findings=tuple(f for f in result.findings if f.stage in ("", stage)),
                   stages=result.stages[-1:], records=result.records[-1:])


def status(result: Result) -> int:
    """1 when a finding of severity stop stands, else 0."""
    from ..sim.result import Verdict
    return int(result.verdict is Verdict.STOP)


def show_report(result: Result, everything: bool = False, to_error: bool = False,
                ways: Sequence[Way] = ()) -> None:
    """The first screen, and sections below it: with tones on a terminal, plain and 80 columns wide anywhere
    else."""
    from .terminal import report
    rows = report(result, everything=everything)
    if ways:
        from .section_file import sections_of
        from .section_rows import all_sections
        rows += all_sections(ways, sections_of(result, ways), result.job.units)
    show_rows(rows, to_error)


def show_rows(rows: Iterable[Row], to_error: bool = False) -> None:
    """Rows on the terminal, or as plain text 80 columns wide."""
    from .layout import plain, show
    stream = sys.stderr if to_error else sys.stdout
    if not stream.isatty():
        stream.write(plain(rows, 80))
        return
    from rich.console import Console
    show(rows, Console(file=stream))


def write_outputs(result: Result, outputs: Outputs) -> None:
    """Write the files, each whole; a picture that cannot be drawn is said on standard error."""
    from .record import as_json, record
    from .writing import write_text
    if outputs.surface is not None:
        (result.kept or result.surface).save(outputs.surface)
    if outputs.json is not None:
        write_text(outputs.json, as_json(record(result)))
    if outputs.page is not None:
        from .page import page_of
        write_text(str(outputs.page), page_of(result))
    if outputs.heights is not None:
        from .heights_file import save_heights
        save_heights(result.surface, result.job.units, outputs.heights)
    if outputs.sections is not None:
        from .section_file import save_sections, sections_of
        save_sections(result, sections_of(result, outputs.ways), outputs.sections)
    if outputs.mesh is not None:
        save_mesh_and_say(result, outputs.mesh)
    if outputs.picture is not None:
        draw_or_say(result, outputs.picture, outputs.look)


def fit_names(outputs: Outputs) -> None:
    """Raises Refused, before anything is checked, where a name's ending is no format that can be written."""
    if outputs.mesh is not None:
        from .mesh_file import check_mesh_name
        check_mesh_name(outputs.mesh)
    if outputs.heights is not None:
        from .heights_file import check_heights_name
        check_heights_name(outputs.heights)
    if outputs.picture is not None and outputs.picture.suffix.lower() not in (".png", ".svg"):
        raise Refused(f"--picture {outputs.picture}: the name must end in .png, or .svg for the plan")


def save_mesh_and_say(result: Result, path: Path) -> None:
    from .mesh_file import save_mesh
    from .scene import undersides
    left_out = save_mesh(result.surface, partial(undersides, result.job), path)
    if left_out:
        print(f"proveout: {clean_lines(left_out)}", file=sys.stderr)


def draw_or_say(result: Result, path: Path, look: Look | None = None) -> bool:
    """Draw the picture, or the plan; where that fails, say why on standard error. Whether it is there."""
    if path.suffix.lower() == ".svg":
        from .plan_picture import draw_plan
        draw_plan(result, path)
        return True
    from .picture import NoPicture, draw
    try:
        with bar("Drawing the picture"):
            draw(result, path, look)
    except NoPicture as why:
        print(f"proveout: {clean_lines(str(why))}", file=sys.stderr)
        return False
    return True
