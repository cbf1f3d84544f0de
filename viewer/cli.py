"""The command `proveout`: what can be asked, and what its exit status says.

The law: 0 no reason to stop, 1 at least one, 2 the input could not be used. A report goes to standard
output, everything else to standard error; an error is one message and never a traceback; a file is
written whole, after everything else went well, or not at all. Heavy parts are imported when needed.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

SELDOM = 200_000  # new objects between two looks for garbage: loading makes many, and all of them stay
STOPPED = 130  # status of a command that Ctrl-C ended

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False,
                  no_args_is_help=True, context_settings={"help_option_names": ["-h", "--help"]})


Steps = Annotated[int | None, typer.Option(
    min=1, metavar="N", help="Moves that a program may make before it is called endless; 20000000 when left "
    "out. A loop that moves nothing is called so after 200000 lines, whatever N is.")]


@app.callback(invoke_without_command=True)
def proveout(
    version: Annotated[bool, typer.Option("--version", help="Print the version.", is_eager=True)] = False,
) -> None:
    """Says before anything turns whether a router program meets a screw, a clamp or the bed,
    and what the board will look like."""
    if version:
        from importlib.metadata import version as installed
        print(f"proveout {installed('proveout')}")
        raise typer.Exit(0)


@app.command()
def check(
    jobs: Annotated[list[Path], typer.Argument(
        metavar="JOB", help="Job files, or programs with --cutter.")],
    cutter: Annotated[str | None, typer.Option(
        metavar='"SHAPE DIAMETER"', help='Check a program with no job file: --cutter "facing 25.4".')] = None,
    stage: Annotated[str | None, typer.Option(
        metavar="NAME", help="Report this stage; those before it are simulated.")] = None,
    json: Annotated[str | None, typer.Option(
        metavar="FILE", help="Write the result file; - is standard output.")] = None,
    picture: Annotated[Path | None, typer.Option(
        metavar="FILE.png", help="Draw the board; FILE.svg: its plan, true to scale.")] = None,
    picture_size: Annotated[str | None, typer.Option(
        metavar="WxH", help="Of the picture, in pixels: 1600x1000.")] = None,
    picture_from: Annotated[str | None, typer.Option(
        metavar="VIEW", help="Where the picture is taken from: operator, above, left, right, back.")] = None,
    picture_colours: Annotated[str | None, typer.Option(
        metavar="WHAT", help="What its colours tell: wanted, height, line, stage.")] = None,
    page: Annotated[Path | None, typer.Option(
        metavar="FILE.html", help="Write the whole report as one page that any browser opens.")] = None,
    save_surface: Annotated[Path | None, typer.Option(
        metavar="FILE.npz", help="Save the surface as the last stage leaves it.")] = None,
    save_mesh: Annotated[Path | None, typer.Option(
        metavar="FILE.stl", help="The board as a solid for other programs; also .ply, .vtp.")] = None,
    save_heights: Annotated[Path | None, typer.Option(
        metavar="FILE.npz", help="Its heights for other programs; also .csv, .tif.")] = None,
    section: Annotated[list[str] | None, typer.Option(
        metavar="X,Y:X,Y", help="Show the board's height along a line, which may bend; may be given again.")
        ] = None,
    save_section: Annotated[Path | None, typer.Option(
        metavar="FILE.csv", help="Write it as a table: every cell, and the line that cut it last.")] = None,
    values: Annotated[list[str] | None, typer.Option(
        "--set", metavar="'#500=3'", help="A value that only the machine knows; may be given again.")] = None,
    number: Annotated[int | None, typer.Option(
        min=0, metavar="N", help="With --cutter: the O number to check, in a file of several.")] = None,
    steps: Steps = None,
    threads: Annotated[int | None, typer.Option(
        min=1, metavar="N", help="Cut on so many cores at once; the result is the same.")] = None,
    everything: Annotated[bool, typer.Option(
        "--all", help="Every reason, gap and unchecked thing in full.")] = False,
    override: Annotated[str | None, typer.Option(
        metavar="50:150", help="The range of the feed knob: which settings leave what is right.")] = None,
    spindle_override: Annotated[str | None, typer.Option(
        metavar="50:120", help="The range of the knob for the spindle's speed.")] = None,
    resume: Annotated[int | None, typer.Option(
        min=1, metavar="LINE", help="After a stop that nobody planned: from which line to go on, and what to "
                                    "set before.")] = None,
    against: Annotated[Path | None, typer.Option(
        metavar="RESULT", help="Do not check: say whether this old result file still holds.")] = None,
    watch: Annotated[bool, typer.Option(
        "--watch", help="Check again whenever a file of the job changes; Ctrl-C ends it.")] = False,
    workers: Annotated[int | None, typer.Option(
        min=1, metavar="N", help="Check many jobs in N processes, a line for each, the worst first.")] = None,
    cluster: Annotated[str | None, typer.Option(
        metavar="ADDRESS", help="The same on a Dask cluster.")] = None,
) -> None:
    """Check jobs and say whether to run them."""
    from .asked import Asked
    from .checking import Outputs, check_jobs
    from .job_files import jobs_in
    from .look import look
    several, jobs = len(jobs), jobs_in(jobs)
    asked = Asked(cutter, stage, everything, override, spindle_override, tuple(values or ()), number,
                  threads, steps)
    outputs = Outputs(json, picture, save_surface, page, save_mesh, save_heights,
                      look(picture_size, picture_from, picture_colours), tuple(section or ()),
                      save_section)
    if against is not None:
        from .against import hold_against
        raise typer.Exit(hold_against(jobs, against, asked))
    if resume is not None:
        from .checking import resume_job
        raise typer.Exit(resume_job(jobs, asked, outputs, resume))
    if workers is not None or cluster is not None or len(jobs) > several:  # a folder of many
        from .library import check_library
        raise typer.Exit(check_library(jobs, asked, outputs, workers, cluster))
    if watch:
        from .watching import keep_checking
        raise typer.Exit(keep_checking(jobs, asked, outputs))
    raise typer.Exit(check_jobs(jobs, asked, outputs))


@app.command()
def read(
    programs: Annotated[list[Path], typer.Argument(metavar="PROGRAM")],
    dialect: Annotated[str, typer.Option(
        metavar="NAME", help="The control's dialect, or a dialect file.")] = "",
    json: Annotated[str | None, typer.Option(
        metavar="FILE", help="Write what was read; - is standard output.")] = None,
    moves: Annotated[str | None, typer.Option(metavar="FILE", help="Write the motion table as CSV.")] = None,
    values: Annotated[list[str] | None, typer.Option(
        "--set", metavar="'#500=3'", help="A value that only the machine knows; may be given again.")] = None,
    steps: Steps = None,
    number: Annotated[int | None, typer.Option(
        min=0, metavar="N", help="The O number of the only program to read, in a file of several.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Every finding in full.")] = False,
) -> None:
    """Read programs: what they are, what they do, what is wrong."""
    from .program_report import Asked, read_programs
    asked = Asked(dialect, values or (), steps, everything, number)
    raise typer.Exit(read_programs(programs, asked, json, moves))


@app.command()
def view(
    job: Annotated[Path, typer.Argument(metavar="JOB", help="A job file, or a program with --cutter.")],
    cutter: Annotated[str | None, typer.Option(
        metavar='"SHAPE DIAMETER"', help='View a program with no job file: --cutter "facing 25.4".')] = None,
    stage: Annotated[str | None, typer.Option(
        metavar="NAME", help="Show this stage; those before it are simulated.")] = None,
) -> None:
    """Check a job and open it in a window: turn it, play it forward and back."""
    from .job_files import the_job
    from .viewing import view_job
    raise typer.Exit(view_job(the_job(job), cutter, stage))


@app.command()
def new(
    folder: Annotated[Path | None, typer.Argument(help="Where to write job.toml.")] = None,
    program: Annotated[list[Path] | None, typer.Option(
        metavar="FILE", help="A program of the job; it tells size, cutters, stops.")] = None,
    board: Annotated[str | None, typer.Option(
        metavar="600x400x18", help="Width, depth, thickness.")] = None,
    material: Annotated[str | None, typer.Option(metavar="MDF", help="What the board is.")] = None,
    cutter: Annotated[list[str] | None, typer.Option(
        metavar='"1: facing 25.4"', help="A cutter: T number, shape, diameter.")] = None,
    screw: Annotated[str | None, typer.Option(
        metavar='"ISO 7380-1 M6"', help="What screws hold the board; none: none do.")] = None,
    screws: Annotated[str | None, typer.Option(metavar="3x2", help="How many, across x deep.")] = None,
    inset: Annotated[str | None, typer.Option(metavar="30", help="How far in from the edges.")] = None,
    sunk: Annotated[str | None, typer.Option(metavar="8", help="How deep their counterbores are.")] = None,
    zero: Annotated[str | None, typer.Option(
        metavar='"front left, top"', help="Where zero is: a corner or the middle; top or bed.")] = None,
    inch: Annotated[bool | None, typer.Option("--inch/--mm", help="The unit of the job file.")] = None,
    in_short: Annotated[bool, typer.Option("--short", help="As few lines as it takes.")] = False,
    schema: Annotated[bool, typer.Option(
        "--schema", help="Instead: the JSON Schema of job files, for an editor.")] = False,
) -> None:
    """Write a job file to start from; in a terminal, ask for what matters."""
    from .answers import Said
    from .starting import start
    said = Said(board, material, cutter or (), screw, screws, inset, sunk, zero, inch)
    raise typer.Exit(start(folder, program or (), said, in_short, schema))


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write the demo's files.")] = Path("proveout-demo"),
) -> None:
    """Write a job of our own, check it with three faults and without, leave a picture."""
    from .demo.run import run
    raise typer.Exit(run(folder))


@app.command()
def explain(
    kind: Annotated[str, typer.Argument(
        help="A finding kind, for example head-strike; none: list them; codes: all G and M codes; "
             "dialects: how controls read them.")] = "",
) -> None:
    """What a finding means, why it matters, what to do."""
    from .manual import show_page
    raise typer.Exit(show_page(kind))


def main() -> NoReturn:
    """The command's entry: `proveout` and `python -m proveout.viewer`."""
    gc.set_threshold(SELDOM)
    atexit.register(gc.freeze)  # what is left at the end goes with the process, not one by one
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    sys.exit(_guarded())


def _guarded() -> int:
    """Run the command; every way to fail becomes one message and a status."""
    try:
        status = app(standalone_mode=False) or 0
        return _stopped() if status == STOPPED else status  # Ctrl-C in a command comes back as its status
    except typer.Exit as done:
        return done.exit_code
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 2
    except (KeyboardInterrupt, typer.Abort):
        return _stopped()
    except Exception as failed:
        return _say(*_said(failed))


def _stopped() -> int:
    return _say("stopped from the keyboard: no verdict, and no file was left half written", STOPPED)


def _said(failed: Exception) -> tuple[str, int]:
    """The message of a failure, and its status; a surprise is owned up to."""
    from .errors import input_error
    if (said := input_error(failed) or usage_error(failed)) is not None:
        return said, 2
    if os.environ.get("PROVEOUT_TRACEBACK"):
        raise failed
    return (f"proveout itself failed ({type(failed).__name__}: {failed}); there is no verdict. "
            "Set PROVEOUT_TRACEBACK=1 to see where."), 2


def usage_error(failed: Exception) -> str | None:
    """What was wrong with the command line, when that is what failed: its errors word themselves."""
    if not hasattr(failed, "format_message"):
        return None
    context = getattr(failed, "ctx", None)
    hint = f" See: {context.command_path} --help" if context is not None else ""
    return failed.format_message().rstrip() + hint  # type: ignore[attr-defined]


def _say(message: str, status: int) -> int:
    from .plain_text import clean_lines
    print(f"proveout: {clean_lines(message)}", file=sys.stderr)
    return status
