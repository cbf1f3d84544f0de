"""The screen of `proveout read`: what a program is, where it goes, what is wrong with it.

The law: one screen. The worst findings stand in full, with their line and a caret; the rest have a line each;
repeats are folded. A program of another trade is told what it seems to be, once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

from ..parser.control import NOT_GIVEN
from ..parser.finding import Finding, Severity, fold
from ..parser.motion import Motion
from ..parser.reading import Reading
from ..parser.units import Units
from .feed_rows import clock
from .layout import Row
from .program_facts import Facts, counted, extents, lengths, several
from .weights import TONES, WORDS, repeats

if TYPE_CHECKING:
    from ..sim.levels import Level

IN_FULL, IN_SHORT, LEVELS = 3, 9, 8  # findings on one screen; heights that are named
PROGRAMS = 8  # of one file that have a line each


@dataclass(frozen=True)
class Read:
    """One program as read: `findings` folded, the worst first; `reading` and `facts` are None for what is no
    program at all, `findings` then says so. `keys` are those of the dialect that its moves hang on, `unheld`
    those that it met and was too long to be read again with.
    """

    name: str
    dialect: str
    seconds: float
    findings: tuple[Finding, ...]
    reading: Reading | None = None
    facts: Facts | None = None
    keys: tuple[str, ...] = ()
    unheld: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """The file, and which of its programs where it holds several."""
        return f"{self.name} {self.reading.program}" if self.reading and self.reading.program else self.name

    @property
    def units(self) -> Units:
        return Units.INCH if self.reading is not None and self.reading.units_said == "G20" else Units.MM


def report_file(reads: Sequence[Read], *, everything: bool = False) -> Iterator[Row]:
    """A file's rows: of several programs a line each, and the findings of all of them."""
    if len(reads) == 1:
        yield from report(reads[0], everything=everything)
        return
    first = reads[0]
    yield Row("READ", f"{first.name}, {first.dialect} reading")
    if first.facts is not None:
        yield from which_family(first, first.facts)
    yield Row("", f"{len(reads)} programs in one file, each run from its own start; --number N tells of one "
                  "alone:")
    for read in reads if everything else reads[:PROGRAMS]:
        yield Row("", in_short(read), one_line=True)
    if len(reads) > PROGRAMS and not everything:
        yield Row("", f"and {len(reads) - PROGRAMS} more: --all shows them")
    yield from findings_rows(together(reads), everything)
    yield Row()


def in_short(read: Read) -> str:
    """One program of several: what there is to find in it, how far it goes."""
    assert read.reading is not None
    assert read.facts is not None  # only such a file holds several
    weights, motion = Counter(found.severity for found in read.findings), read.reading.motion
    told = [f"{weights[level]} {WORDS[level]}"
            for level in (Severity.STOP, Severity.CAUTION) if weights[level]]
    cutters = [" ".join(f"T{number}" for number in read.facts.cutters)] if read.facts.cutters else []
    return f"{read.reading.program}: " + ", ".join([
        *told, counted(len(motion), "move"), *reach(motion, read.units), *cutters,
        f"{clock(read.facts.feeding)} of feed"])


def reach(motion: Motion, units: Units) -> list[str]:
    """How far the tip goes on each axis that it is known on."""
    return [f"{axis.upper()} {_range(ends, units)}" for axis, ends in extents(motion).items() if ends]


def together(reads: Sequence[Read]) -> Read:
    """The findings of several programs as those of one, each with its own line."""
    found = fold(found for read in reads for found in read.findings)
    return replace(reads[0], findings=tuple(sorted(found, key=lambda f: (-f.severity, f.line))))


def report(read: Read, *, everything: bool = False) -> Iterator[Row]:
    """A program's rows."""
    yield Row("READ", f"{read.title}, {read.dialect} reading")
    if read.reading is not None and read.facts is not None:
        yield from what_it_is(read, read.reading, read.facts)
        yield from where_it_goes(read.reading, read.facts, read.units)
        yield from what_it_hangs_on(read, read.facts)
    yield from findings_rows(read, everything)
    yield from what_is_not_known(read, everything)
    yield Row()


def which_family(read: Read, facts: Facts) -> Iterator[Row]:
    """What it seems to be for, and why."""
    family = facts.family
    if family.blind:
        yield Row("look", f"This seems to be {family.title} ({family.why}). Not simulated: {family.blind}. "
                          "Only its plain moves are read; no verdict on the rest.", "caution")
    else:
        hold = f" --dialect {family.dialect} holds it to that." if read.dialect == "union" else ""
        yield Row("", f"For {family.title}, it seems: {family.why}.{hold}" if family.line
                  else f"Written in {family.title}.")


def what_it_is(read: Read, reading: Reading, facts: Facts) -> Iterator[Row]:
    """Its family and why; lines, moves, unit, numbers, cutters, stops."""
    yield from which_family(read, facts)
    said = [counted(reading.source.count, "line"), counted(len(reading.motion), "move"),
            {"G20": "inch (G20)", "G21": "mm (G21)"}.get(reading.units_said or "", "no unit said, mm taken")]
    if facts.programs:
        said.append("program " + several([f"O{number}" for number in facts.programs]))
    said.append("cutters " + several([f"T{number}" for number in facts.cutters]) if facts.cutters
                else "no cutter change")
    said.append("stops " + several([f"{stop.code} line {stop.line}" for stop in facts.stops], 4)
                if facts.stops else "no stop")
    took = clock(read.seconds) if read.seconds >= 1 else f"{read.seconds * 1000:.0f} ms"
    yield Row("", f"{'; '.join(said)} (read in {took})")


def where_it_goes(reading: Reading, facts: Facts, units: Units) -> Iterator[Row]:
    """Extents, lengths, time, and the heights at which it feeds."""
    known = ", ".join(reach(reading.motion, units))
    yield Row("", f"Tip goes {known}" if known else "No move has a known place.")
    far = lengths(reading.motion)
    waits = f", {clock(facts.waiting)} of dwell" if facts.waiting else ""
    yield Row("", f"Feeds {whole(far['feed'], units)} in {clock(facts.feeding)}{waits}; rapids "
                  f"{whole(far['rapid'], units)}, not timed (their speed is the machine's)")
    if heights := _heights(facts, units):
        yield Row("", "Feeds " + "; ".join(heights))


def _range(ends: Sequence[float], units: Units) -> str:
    low, high = map(units.digits, ends)
    return f"{low} to {units.text(ends[1])}" if low != high else units.text(ends[0])


def whole(length: float, units: Units) -> str:
    """A long way needs no decimals."""
    return units.text(round(length / units.scale) * units.scale if length > 100 * units.scale else length)


def _heights(facts: Facts, units: Units) -> list[str]:
    """Passes and holes, the deepest first."""
    passes = [level for level in facts.levels if level.length]
    holes = [level for level in facts.levels if level.holes]
    said = []
    if passes:
        said.append("level at " + _named(passes, units, lambda level: whole(level.length, units)))
    if holes:
        said.append("straight down to " + _named(holes, units, lambda level: counted(level.holes, "time")))
    if facts.sloped:
        said.append(f"on a slope in {counted(facts.sloped, 'move')}")
    return said


def _named(heights: Sequence[Level], units: Units, how: Callable[[Level], str]) -> str:
    """Each height; of very many how many, and the ends of their range."""
    if len(heights) > LEVELS:
        low, high = units.digits(heights[0].z), units.digits(heights[-1].z)
        return f"{len(heights)} heights, Z {low} to {high}"
    return ", ".join(f"Z {units.digits(level.z)} ({how(level)})" for level in heights)


def what_it_hangs_on(read: Read, facts: Facts) -> Iterator[Row]:
    """The keys of the dialect whose other values would move the machine elsewhere."""
    keys = [*read.keys]
    if facts.slanted:
        keys.append(f"rapid.path ({counted(facts.slanted, 'rapid')} along several axes: straight or dog-leg)")
    if facts.pointless:
        bare = counted(facts.pointless, "number")
        keys.append(f"number.no_point ({bare} without a decimal point: taken as whole units here, in steps "
                    "of 0.001 mm on many such controls)")
    if keys:
        yield Row("", f"Its moves hang on {several(keys)}: say in a dialect how your control reads "
                      f"{'it' if len(keys) == 1 else 'them'} (proveout explain dialects).")
    if read.unheld:
        yield Row("", f"It met {several(read.unheld)}, and is too long to be read both ways: name the "
                      "dialect of your control.")


def what_is_not_known(read: Read, everything: bool) -> Iterator[Row]:
    """Moves that have no place and are no finding of their own, and why; that a program begins where nothing
    is known yet goes without saying, and so does it in a program of another trade."""
    if read.reading is None or (read.facts is not None and read.facts.family.blind and not everything):
        return
    hidden = [each for each in read.reading.unchecked if everything or not each.why.startswith(NOT_GIVEN.why)]
    for what, same in groupby(hidden, lambda each: each.what):
        reasons = [each.why for each in same]
        shown = reasons if everything else reasons[:1]
        left = len(reasons) - len(shown)
        more = f"; {left} more: --all" if left else ""
        yield Row("", f"Not known: {what}: {'; '.join(shown)}{more}.")


def findings_rows(read: Read, everything: bool) -> Iterator[Row]:
    """The worst in full, the next in a line each, the rest as a number; of another trade, none in full."""
    other_trade = read.facts is not None and bool(read.facts.family.blind)
    full = len(read.findings) if everything else 0 if other_trade else IN_FULL
    short = full + IN_SHORT
    for found in read.findings[:full]:
        yield from _in_full(read, found)
    for found in read.findings[full:short]:
        yield Row(WORDS[found.severity], _sentence(read, found), TONES[found.severity], one_line=True)
    if len(read.findings) > short:
        left = read.findings[short:]
        counts = [f"{len([*same])} {WORDS[level]}" for level, same in groupby(left, lambda f: f.severity)]
        yield Row("", f"and {' and '.join(counts)} more: --all shows them")
    if not read.findings:
        yield Row("", "No fault found in the language. What it meets on the machine takes a job file.")


def _in_full(read: Read, found: Finding) -> Iterator[Row]:
    yield Row(WORDS[found.severity], _sentence(read, found), TONES[found.severity])
    if read.reading is not None and found.line:
        quoted = read.reading.source.quote(found.line, found.column, found.end_column, 70)
        yield from (Row("", part, one_line=True) for part in quoted.split("\n"))
    yield Row("", found.advice(read.units))


def _sentence(read: Read, found: Finding) -> str:
    return f"line {found.line}: {found.message(read.units)}{repeats(found)}"
