"""`proveout read`: the language alone. What a program is, what it does, what is wrong with it.

The law: no job, no board, no cutter: only what the text says. Lengths are millimetres in files, and the
program's own unit on a screen.
"""

from __future__ import annotations

import csv
import io
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ..parser.dialect import Dialect, load_dialect
from ..parser.finding import Finding, Severity, finding
from ..parser.interpreter import read_program
from ..parser.motion import Motion, Move
from ..parser.reading import Reading
from ..parser.recognise import looks_like_program
from ..parser.source import Source
from ..parser.units import Units
from .errors import place_for
from .layout import Row, plain, show
from .record import FORMAT, as_json, finding_record, write_text
from .stage_rows import clock
from .terminal import TONES, WORDS, repeats

MOVE_WORDS = {Move.RAPID: "rapid", Move.FEED: "feed", Move.ARC: "arc"}
COLUMNS = ("program", "line", "move", "x0", "y0", "z0", "x1", "y1", "z1", "feed", "cutter", "speed")


@dataclass(frozen=True)
class Read:
    """One program as read; `reading` is None for what is no text at all, `findings` then says so."""

    name: str
    dialect: str
    seconds: float
    findings: tuple[Finding, ...]
    reading: Reading | None = None

    @property
    def units(self) -> Units:
        return Units.INCH if self.reading is not None and self.reading.units_said == "G20" else Units.MM


def read_programs(paths: Sequence[Path], dialect: str, json: str | None, moves: str | None) -> int:
    """Read every program, show and write what was asked for; the exit status (0 or 1)."""
    place_for(json, "--json")
    place_for(moves, "--moves")
    chosen = dialect_named(dialect)
    reads = [read_one(path, chosen) for path in paths]
    show_reads(reads, to_error="-" in (json, moves))
    if json is not None:
        write_text(json, as_json({"format": FORMAT, "programs": [program_record(each) for each in reads]}))
    if moves is not None:
        write_text(moves, moves_table(reads))
    return int(any(f.severity is Severity.STOP for each in reads for f in each.findings))


def dialect_named(name: str) -> Dialect:
    """A shipped dialect, or the one in a file; none named is the union. Raises DialectError."""
    if name.endswith(".toml") and Path(name).is_file():
        return load_dialect(Path(name).read_text(encoding="utf-8"), name=name)
    return load_dialect(name or "union")


def read_one(path: Path, dialect: Dialect) -> Read:
    """Raises OSError for a file that cannot be opened, Unreadable for one that cannot be decoded."""
    source = Source(str(path), path.read_bytes())
    began = time.perf_counter()
    if (why := no_program(source)) is not None:
        return Read(str(path), dialect.name, time.perf_counter() - began, (why,))
    reading = read_program(source, dialect)
    worst_first = sorted(reading.findings, key=lambda f: -f.severity)
    return Read(str(path), dialect.name, time.perf_counter() - began, tuple(worst_first), reading)


def no_program(source: Source) -> Finding | None:
    """The one finding about a file that is no program at all: binary, or another format."""
    if b"\0" not in source.data or source.data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        _ = source.lines  # raises what makes it unusable
    why = looks_like_program(source)
    if why is None:
        return None
    found = f"what is no program ({why.removeprefix(source.name + ': ')})"
    return finding("unread", line=1, column=1, program=source.name, found=found, expected="a program",
                   column_said=1)


def program_record(read: Read) -> dict[str, Any]:
    """One program as `read --json` has it; millimetres."""
    motion = None if read.reading is None else read.reading.motion
    return {
        "program": read.name, "dialect": read.dialect,
        "lines": 0 if read.reading is None else len(read.reading.source.lines),
        "moves": 0 if motion is None else len(motion), "seconds_to_read": round(read.seconds, 6),
        "extents": None if motion is None else extents(motion), "lengths": lengths(motion),
        "findings": [{**finding_record(f, Units.MM), "program": read.name} for f in read.findings],
    }


def extents(motion: Motion) -> dict[str, list[float] | None]:
    """Least and greatest known coordinate of the tip on each axis, null where none is known."""
    points = np.concatenate([motion.start, motion.end])
    known = {axis: points[np.isfinite(points[:, i]), i] for i, axis in enumerate("xyz")}
    return {axis: [float(v.min()), float(v.max())] if len(v) else None for axis, v in known.items()}


def lengths(motion: Motion | None) -> dict[str, float]:
    """Millimetres of rapids and of feed moves whose place is known."""
    if motion is None or not len(motion):
        return {"rapid": 0.0, "feed": 0.0}
    length = np.where(motion.placed, motion.length(), 0.0)
    return {"rapid": float(length[~motion.is_feed].sum()), "feed": float(length[motion.is_feed].sum())}


def moves_table(reads: Sequence[Read]) -> str:
    """The motion of every program as CSV: millimetres, mm/min, rpm; an unknown number is empty."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for read in reads:
        if read.reading is not None:
            table.writerows(_moves(read.name, read.reading.motion))
    return out.getvalue()


def _moves(name: str, motion: Motion) -> Iterator[list[Any]]:
    numbers = np.column_stack([motion.start, motion.end, motion.feed]) if len(motion) else np.empty((0, 7))
    for row, values in enumerate(numbers.tolist()):
        state = motion.states[motion.state[row]]
        said = ["" if v != v else round(v, 6) for v in values]
        yield [name, int(motion.line[row]), MOVE_WORDS[Move(int(motion.kind[row]))], *said,
               "" if state.cutter is None else state.cutter, "" if state.speed is None else state.speed]


def show_reads(reads: Sequence[Read], to_error: bool) -> None:
    """What was read, on the terminal or as plain text."""
    stream = sys.stderr if to_error else sys.stdout
    rows = [row for read in reads for row in report(read)]
    if not stream.isatty():
        stream.write(plain(rows, 80))
        return
    from rich.console import Console
    show(rows, Console(file=stream))


def report(read: Read) -> Iterator[Row]:
    """A program's rows: what it is, where it goes, what is wrong."""
    yield Row("READ", f"{read.name}, {read.dialect} reading")
    if read.reading is not None:
        yield from motion_rows(read)
    for found in read.findings:
        yield Row(WORDS[found.severity], f"line {found.line}: {found.message(read.units)}{repeats(found)}",
                  TONES[found.severity])
        if read.reading is not None and found.line:
            quoted = read.reading.source.quote(found.line, found.column, found.end_column, 70)
            yield from (Row("", part, one_line=True) for part in quoted.split("\n"))
        yield Row("", found.advice(read.units))
    if not read.findings:
        yield Row("", "No fault found in the language. What it meets on the machine takes a job file.")
    yield Row()


def motion_rows(read: Read) -> Iterator[Row]:
    assert read.reading is not None
    motion, units = read.reading.motion, read.units
    far = lengths(motion)
    yield Row("", f"{len(read.reading.source.lines)} lines, {len(motion)} moves: "
                  f"{units.text(far['feed'])} at feed, {units.text(far['rapid'])} in rapids; "
                  f"read in {clock(read.seconds) if read.seconds >= 1 else f'{read.seconds * 1000:.0f} ms'}")
    reach = [f"{axis.upper()} {units.digits(r[0])} to {units.text(r[1])}"
             for axis, r in extents(motion).items() if r is not None]
    yield Row("", "tip goes " + ", ".join(reach) if reach else "no move has a known place")
