"""The first screen: a Result in about two dozen lines, in the order in which a machinist asks.

The law: verdict, reason, what to change; then how the machine must stand, how close it gets, what is
cut; then what nobody looked at. Every figure is taken from the Result. No line calls a program safe.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..parser.finding import Finding, Severity, place, registry
from ..parser.reading import Reading
from ..sim.result import Result, Verdict
from .cautions import cautions
from .layout import Row
from .manual import why
from .plan_rows import plan_rows
from .stage_rows import stage_rows
from .standing import screw_place
from .weights import TONES, WORDS, repeats

VERDICTS = {Verdict.STOP: "DO NOT RUN", Verdict.CAUTION: "LOOK FIRST", Verdict.CLEAR: "NOTHING FOUND"}
REASONS = 7  # on the first screen
GIVEN = 9  # things that were not given
SHORT = 12  # digits of a checksum
NEVER = "hold-down, sharpness, a cutter slipping, wiring"


def report(result: Result, *, everything: bool = False) -> list[Row]:
    """The rows of the first screen; with `everything`, every reason, gap and unchecked thing in full."""
    return [
        *verdict_rows(result),
        *worst_rows(result),
        *other_rows(result, everything),
        *quiet_rows(result),
        *stage_rows(result, everything),
        *unchecked_rows(result, everything),
        *caution_rows(result, everything),
        *closing_rows(result),
    ]


def verdict_rows(result: Result) -> Iterator[Row]:
    """Verdict and title; each stage's program with its checksum's beginning; how many reasons."""
    programs = ", ".join(dict.fromkeys(stage.program for stage in result.stages))
    yield Row(VERDICTS[result.verdict], result.job.title or programs, result.verdict.value, one_line=True)
    for number, stage in enumerate(result.stages):
        yield Row("", f"{stage.program} sha256 {stage.sha256[:SHORT]} ({stage.name})", one_line=True,
                  beside=number > 0)
    yield Row("", counts(result), beside=True)


def counts(result: Result) -> str:
    """How many reasons of each weight, and how many things were not checked."""
    number = {level: sum(f.severity is level for f in result.findings) for level in Severity}
    words = [(Severity.STOP, "reason not to run it", "reasons not to run it"),
             (Severity.CAUTION, "to look at first", "to look at first"), (Severity.NOTE, "note", "notes")]
    said = [f"{number[level]} {one if number[level] == 1 else more}"
            for level, one, more in words if number[level]]
    return f"{', '.join(said) or 'no reason found'}; {len(result.unchecked)} not checked"


def worst_rows(result: Result) -> Iterator[Row]:
    """The worst reason, taken apart: what, when, where, size, why, do."""
    if not result.findings:
        yield Row("", "Nothing was found in what was checked. That is no promise: "
                      "the files were seen, the machine was not.")
        return
    found, units = result.findings[0], result.job.units
    yield Row("WHAT", found.message(units) + repeats(found), TONES[found.severity])
    yield from when_rows(found, reading_of(result, found.stage))
    if found.shown is not None:
        yield Row(" where", where(found, result))
    if found.value is not None:
        yield Row(" size", size(found, result), beside=True)
    if reason := why(found.kind):
        yield Row(" why", reason, beside=True)
    yield Row(" do", found.advice(units))


def when_rows(found: Finding, reading: Reading | None) -> Iterator[Row]:
    """The line and its text; a caret below it where the finding says which word."""
    if not found.line:
        yield Row(" when", f"{found.program or 'the job'}, no single line")
        return
    text = reading.source.quote(found.line, found.column, found.end_column, 60) if reading else ""
    program_line, _, caret = text.partition("\n")
    head = f"{found.program} line {found.line}: "
    yield Row(" when", head + program_line.rstrip(), one_line=True)
    if caret:
        yield Row("", " " * len(head) + caret, one_line=True)


def where(found: Finding, result: Result) -> str:
    """The place as the control shows it, in the board frame where that differs, and the screw's place."""
    units = result.job.units
    assert found.shown is not None
    said = f"{place(found.shown, units)} on the control"
    if found.at is not None and place(found.at, units) != place(found.shown, units):
        said += f", {place(found.at, units)} on the board"
    screw = screw_place(result.job, found.about)
    return said + (f" ({found.about}: {screw})" if screw else "")


def size(found: Finding, result: Result) -> str:
    """What was measured and what it is held against."""
    units, kind = result.job.units, registry()[found.kind]
    assert found.value is not None
    said = f"{kind.value.split(',')[0] or 'value'} {units.text(found.value, kind.unit)}"
    if found.limit is not None:
        said += f"; limit {units.text(found.limit, kind.unit)}"
    return said


def other_rows(result: Result, everything: bool) -> Iterator[Row]:
    """Where all reasons are, with a line for each, or one for all of a kind in a stage, worst first. With
    `everything`, each in full."""
    reasons = alike(result.findings, everything)
    shown = reasons if everything else reasons[:REASONS]
    if len(reasons) > 1 or any(found.at is not None for found, _ in reasons):
        said = [(found, f"{found.program} {found.line}: {found.kind}" if everything
                 else brief(result, found, more)) for found, more in shown[:REASONS]]
        yield from plan_rows(result, said, "" if everything or len(said) < 2 else "--all: in full")
    hidden = len(result.findings) - sum(more + 1 for _, more in shown)
    if hidden > 0:
        yield Row("", f"{hidden} more: --all shows every one.")
    for found, more in shown[1:] if everything else ():
        yield Row(WORDS[found.severity], full(result, found, more), TONES[found.severity])
        yield Row(" do", found.advice(result.job.units))


def brief(result: Result, found: Finding, more: int) -> str:
    """ "stop face.nc 119: …" for a line."""
    return f"{WORDS[found.severity]} {full(result, found, more)}"


def full(result: Result, found: Finding, more: int) -> str:
    line = f" {found.line}" if found.line else ""
    place = f"{found.program or 'job'}{line}" + (f" and {more} more like it" if more else "")
    return f"{place}: {found.message(result.job.units)}{repeats(found)}"


def quiet_rows(result: Result) -> Iterator[Row]:
    """What the job silences, each with its reason: a reader must see that it was silenced, and why."""
    for quiet in result.quieted:
        count = f"{quiet.count} silenced" if quiet.count else "nothing to silence"
        weight = " (weight: stop)" if quiet.severity is Severity.STOP else ""
        yield Row("quiet", f"{quiet.kind} in stage {quiet.stage}: {count}{weight}; {quiet.reason}", "quiet")


def alike(findings: Iterable[Finding], everything: bool) -> list[tuple[Finding, int]]:
    """The first of each kind in a stage, and how many more there are; with `everything`, each alone."""
    groups: dict[object, list[Finding]] = {}
    for number, found in enumerate(findings):
        key = number if everything else (found.stage, found.kind, found.severity)
        groups.setdefault(key, []).append(found)
    return [(group[0], len(group) - 1) for group in groups.values()]


def unchecked_rows(result: Result, everything: bool) -> Iterator[Row]:
    """What was not checked, in two groups."""
    if everything:
        for number, each in enumerate(result.unchecked):
            yield Row("UNSEEN" if number == 0 else "", f"{each.what}: {each.why}")
    else:
        given = list(dict.fromkeys(each.what for each in result.unchecked))
        more = f"; and {len(given) - GIVEN} more: --all tells each, and why" if len(given) > GIVEN else ""
        yield Row("UNSEEN", f"not given: {', '.join(given[:GIVEN]) or 'nothing is missing'}{more}")
    yield Row("UNSEEN" if everything and not result.unchecked else "", f"never checked: {NEVER}", beside=True)


def caution_rows(result: Result, everything: bool) -> Iterator[Row]:
    """The usual cautions that this job calls for, for those who ask for everything."""
    for number, text in enumerate(cautions(result) if everything else ()):
        yield Row("CARE" if number == 0 else "", text)


def closing_rows(result: Result) -> Iterator[Row]:
    """What stays to be done by a person, whatever the verdict."""
    run = "When mended, run" if result.verdict is Verdict.STOP else "Run"
    yield Row("THEN", f"{run} it in the air, hand on the stop; then put the zero back.")
    yield Row("", "Eyes, ears, dust; stay with the machine; its maker's manual comes first.", beside=True)


def reading_of(result: Result, stage: str) -> Reading | None:
    """The reading of a stage by name, where the result kept it."""
    names = [each.name for each in result.stages]
    if stage not in names or len(result.records) != len(names):
        return None
    return result.records[names.index(stage)].reading
