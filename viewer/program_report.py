"""`proveout read`: the language alone. What a program is, what it does, what is wrong with it.

The law: no job, no board, no cutter: only what the text says. Lengths are millimetres in files, and the
program's own unit on a screen.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ..parser.dialect import Dialect, load_dialect
from ..parser.doubts import doubted, others
from ..parser.finding import Finding, Severity, finding, fold
from ..parser.interpreter import QUICK_FROM, read_every, read_program
from ..parser.reading import Reading, Setting
from ..parser.recognise import looks_like_program
from ..parser.source import Source
from ..parser.units import Units
from .bar import bar
from .errors import Refused, place_for
from .first_run import prepare_to_read
from .known import parameters
from .layout import plain, show
from .moves_table import moves_table
from .program_facts import Facts, extents, facts_of, lengths, programs, several
from .program_rows import Read, report_file
from .record import FORMAT, as_json, finding_record
from .writing import write_parts, write_text

READ_AGAIN = 2_000_000  # moves of the longest program that is read again with each other value of a key


@dataclass(frozen=True)
class Asked:
    """How programs are to be read: dialect by name or file, values of parameters ("#500=3"), the most moves
    of a program (None: as its dialect has it); `everything` shows every finding in full; the O number of the
    only program to read."""

    dialect: str = ""
    values: Sequence[str] = field(default=())
    steps: int | None = None
    everything: bool = False
    number: int | None = None


def read_programs(paths: Sequence[Path], asked: Asked, json: str | None, moves: str | None) -> int:
    """Read every program, show and write what was asked for; the exit status (0 or 1)."""
    place_for(json, "--json")
    place_for(moves, "--moves")
    dialect = dialect_for(asked)
    setting = Setting(parameters=parameters(asked.values), program=asked.number)
    files = [read_file(path, dialect, setting) for path in paths]
    show_reads(files, asked.everything, to_error="-" in (json, moves))
    reads = [read for file in files for read in file]
    if json is not None:
        write_text(json, as_json({"format": FORMAT, "programs": [program_record(each) for each in reads]}))
    if moves is not None:
        write_parts(moves, moves_table((each.title, each.reading.motion) for each in reads if each.reading))
    return int(any(f.severity is Severity.STOP for each in reads for f in each.findings))


def dialect_for(asked: Asked) -> Dialect:
    """A shipped dialect, or the one in a file; none named is the union. Raises DialectError."""
    name = asked.dialect
    if name.endswith(".toml") and Path(name).is_file():
        dialect = load_dialect(Path(name).read_text(encoding="utf-8"), name=name)
    else:
        dialect = load_dialect(name or "union")
    return dialect if asked.steps is None else dialect.with_values({"flow.max_moves": asked.steps})


def read_file(path: Path, dialect: Dialect, setting: Setting = Setting()) -> list[Read]:  # noqa: B008
    """Every program of a file, or the one that the setting names. Raises OSError for a file that cannot be
    opened, Unreadable for one that cannot be decoded."""
    source = Source(str(path), path.read_bytes())
    if len(source.data) >= QUICK_FROM:
        prepare_to_read()
    began = time.perf_counter()
    if (why := no_program(source)) is not None:
        return [Read(str(path), dialect.name, time.perf_counter() - began, (why,))]
    if setting.program is not None and setting.program not in programs(source):
        held = several([f"O{number}" for number in programs(source)]) or "no program number"
        raise Refused(f"--number {setting.program}: {path} holds {held}")
    with bar(f"reading {path.name}") as tell:
        def told(done: int, of: int) -> None:
            what = f"reading {path.name}"
            tell(what if of else f"{what}: {done:,} moves", done / of if of else 0.0)

        readings = read_every(source, dialect, setting, told=told) if setting.program is None else [
            read_program(source, dialect, setting, told=told)]
        return [looked_at(path, reading, dialect, setting, began) for reading in readings]


def read_one(path: Path, dialect: Dialect, setting: Setting = Setting()) -> Read:  # noqa: B008
    """The file's only program, or its first; as `read_file`."""
    return read_file(path, dialect, setting)[0]


def looked_at(path: Path, reading: Reading, dialect: Dialect, setting: Setting, began: float) -> Read:
    """A reading with its facts, and read again with each other value of a key that it met."""
    took = time.perf_counter() - began
    short = len(reading.motion) <= READ_AGAIN
    hanging = doubted(others(reading, dialect, setting)) if short else ()
    facts = facts_of(reading, dialect)
    found = sorted(folded((*reading.findings, *hanging), facts), key=lambda f: (-f.severity, f.line))
    return Read(str(path), dialect.name, took, tuple(found), reading, facts,
                tuple(each.about for each in hanging),
                () if short else tuple(sorted({doubt.key for doubt in reading.doubts})))


def folded(findings: Iterable[Finding], facts: Facts) -> tuple[Finding, ...]:
    """Repeats as one; of a program of another trade, one of each kind is enough."""
    if not facts.family.blind:
        return fold(findings)
    kinds: dict[tuple[str, Severity], list[Finding]] = {}
    for each in fold(findings):
        kinds.setdefault((each.kind, each.severity), []).append(each)
    return tuple(one_of(same) for same in kinds.values())


def one_of(same: Sequence[Finding]) -> Finding:
    """The first of a kind stands for all of them."""
    return replace(same[0], count=sum(f.count for f in same), last_line=max(f.lines[1] for f in same))


def no_program(source: Source) -> Finding | None:
    """The one finding about a file that is no program at all: binary, or another format."""
    if b"\0" not in source.data or source.data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        source.check()  # raises what makes it unusable
    why = looks_like_program(source)
    if why is None:
        return None
    found = f"something else ({why.removeprefix(source.name + ': ')})"
    return finding("unread", line=1, column=1, program=source.name, found=found, expected="a program",
                   column_said=1)


def program_record(read: Read) -> dict[str, Any]:
    """One program as `read --json` has it; millimetres, seconds."""
    motion = None if read.reading is None else read.reading.motion
    return {
        "program": read.name, "dialect": read.dialect, **named_in_file(read),
        "lines": 0 if read.reading is None else read.reading.source.count,
        "moves": 0 if motion is None else len(motion), "seconds_to_read": round(read.seconds, 6),
        "extents": None if motion is None else extents(motion), "lengths": lengths(motion),
        **({} if read.facts is None else facts_record(read, read.facts)),
        "findings": [{**finding_record(f, Units.MM), "program": read.name} for f in read.findings],
    }


def named_in_file(read: Read) -> dict[str, Any]:
    """Which program of a file that holds several."""
    if read.reading is None or not read.reading.program:
        return {}
    return {"name": read.reading.program, "begins": read.reading.begins}


def facts_record(read: Read, facts: Facts) -> dict[str, Any]:
    family = facts.family
    return {
        "family": {"dialect": family.dialect or None, "title": family.title, "why": family.why,
                   "line": family.line, "not_simulated": family.blind or None},
        "unchecked": [{"what": each.what, "why": each.why} for each in read.reading.unchecked]
        if read.reading else [],
        "units": {"G20": "inch", "G21": "mm"}.get(read.reading.units_said or "") if read.reading else None,
        "program_numbers": list(facts.programs), "cutters": list(facts.cutters),
        "stops": [{"code": stop.code, "line": stop.line} for stop in facts.stops],
        "seconds": {"feed": round(facts.feeding, 3), "dwell": round(facts.waiting, 3)},
        "levels": [{"z": level.z, "feed": level.length, "holes": level.holes} for level in facts.levels],
        "hangs_on": [*read.keys, *(["number.no_point"] if facts.pointless else [])],
    }


def show_reads(files: Sequence[Sequence[Read]], everything: bool, to_error: bool) -> None:
    """What was read, on the terminal or as plain text."""
    stream = sys.stderr if to_error else sys.stdout
    rows = [row for reads in files for row in report_file(reads, everything=everything)]
    if not stream.isatty():
        stream.write(plain(rows, 80))
        return
    from rich.console import Console
    show(rows, Console(file=stream))
