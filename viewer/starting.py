"""`proveout new FOLDER`: a commented job file to start from, or the schema of job files for an editor.

The law: nothing is ever overwritten; what is written was read back and accepted before it is there.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from .answers import Said, answers
from .errors import Refused
from .first_job import Programs, commented, short, text
from .layout import Row
from .record import as_json
from .told import told_by

JOB, SCHEMA, PLACEHOLDER = "job.toml", "job.schema.json", "program.nc"
NO_PROGRAM = ("%\n(PUT YOUR OWN PROGRAM IN THE PLACE OF THIS FILE)\n(IT LIFTS AND ENDS, AND CUTS NOTHING)\n"
              "{units} G90 G17 G94 G54\nG0 Z{lift}\nM30\n%\n")


def start(folder: Path | None, programs: Sequence[Path], said: Said, in_short: bool, schema: bool) -> int:
    """Write what was asked for; the exit status. Raises Refused, OSError, Unreadable."""
    if schema:
        write_schema(folder)
        return 0
    if folder is None:
        raise Refused("proveout new FOLDER: name the folder that the job file is to be written in")
    refuse_what_is_there(folder, [JOB] + ([] if programs else [PLACEHOLDER]))
    told = [told_by(path) for path in programs]
    made = answers(said, told, asking=sys.stdin.isatty() and sys.stderr.isatty())
    named: Programs = {name_from(folder, each.path): each for each in told} or {PLACEHOLDER: None}
    written = (short if in_short else commented)(made, named)
    files = {JOB: written}
    if not programs:
        files[PLACEHOLDER] = NO_PROGRAM.format(units="G20" if made.units.value == "inch" else "G21",
                                               lift=f"{20 / made.units.scale:.3g}")
    accept(written, named, files)
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        create(folder / name, content)
    say(folder, files, named)
    return 0


def write_schema(folder: Path | None) -> None:
    """The JSON Schema of the job file: into the folder, or on standard output."""
    from ..parser.jobschema import job_schema
    schema = as_json(job_schema())
    if folder is None:
        sys.stdout.write(schema)
        return
    refuse_what_is_there(folder, [SCHEMA])
    folder.mkdir(parents=True, exist_ok=True)
    create(folder / SCHEMA, schema)
    print(f"{folder / SCHEMA}: what a job file may hold, for an editor that reads JSON Schema")


def refuse_what_is_there(folder: Path, names: Sequence[str]) -> None:
    """Raises Refused where a file would be overwritten or the folder is none."""
    if folder.exists() and not folder.is_dir():
        raise Refused(f"{folder}: is a file, not a folder")
    for name in names:
        if (folder / name).exists() or (folder / name).is_symlink():
            raise Refused(f"{folder / name}: is there already and is left as it is; name another folder")


def name_from(folder: Path, program: Path) -> str:
    """How a job file in `folder` names a program: by the way from there, with / on every system."""
    try:
        return Path(os.path.relpath(program.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return program.resolve().as_posix()


def accept(written: str, named: Programs, files: dict[str, str]) -> None:
    """Raises JobError where the text would not be read: it is tried beside copies before it is written."""
    from ..parser.jobfile import read_job
    from ..sim.fitting import KNOWN
    with tempfile.TemporaryDirectory() as trial:
        root = Path(trial)
        for number, (name, told) in enumerate(named.items()):
            data = files[name].encode() if told is None else told.path.read_bytes()
            (root / f"{number}.nc").write_bytes(data)
            written = written.replace(f"program = {text(name)}", f'program = "{number}.nc"')
        (root / JOB).write_text(written, encoding="utf-8")
        read_job(root / JOB, KNOWN)


def create(path: Path, content: str) -> None:
    """Write a file that must not be there yet. Raises FileExistsError where it has come meanwhile."""
    with path.open("x", encoding="utf-8", newline="\n") as file:
        file.write(content)


def say(folder: Path, files: dict[str, str], named: Programs) -> None:
    """What was written and what to do next."""
    from .checking import show_rows
    rows = [Row("WROTE", ", ".join(str(folder / name) for name in files))]
    if None in named.values():
        rows.append(Row("", f"{PLACEHOLDER} cuts nothing: put your own program in its place, or start again "
                            "in another folder with --program FILE."))
    rows += [Row("", "Look through it: what was guessed from programs is a guess, and what is not known "
                     "is not checked."),
             Row("THEN", f"proveout check {folder / JOB}")]
    show_rows(rows)
