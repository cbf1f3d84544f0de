"""Going on in the middle of a program, in rows: at the line or from which others, what to set, how to go.

The law: figures and codes are Resume's; here they are only put in words. No row promises anything: what the
machine has lost is not seen from a program.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..parser.finding import place
from ..parser.motion import Spindle
from ..parser.units import Units
from ..sim.control import dialect_of
from ..sim.result import Result
from ..sim.resume import Entry, NoResume, Resume, resume_at
from .errors import Refused
from .feed_rows import clock
from .layout import Row

WHY_NOT = {"cut": "in the cut", "low": "lower than what stands on the machine",
           "cycle": "inside a drilling cycle", "place": "at a place that is not known"}


def resume_rows(result: Result, line: int) -> list[Row]:
    """What to know before going on at a line of the last reported stage. Raises Refused where nothing can be
    said."""
    record, stage = result.records[-1], result.stages[-1]
    try:
        resume = resume_at(record, line, dialect_of(result.job))
    except NoResume as why:
        raise Refused(f"--resume {line}: {why}") from None
    text = record.reading.source.quote(line, 1, 1, 60).partition("\n")[0].rstrip()
    return [Row("RESUME", f"{stage.program} line {line}: {text}", one_line=True),
            *line_rows(resume, result.job.units), *entry_rows(resume, result.job.units),
            *set_rows(resume, result), *go_rows(resume, result.job.units)]


def line_rows(resume: Resume, units: Units) -> Iterator[Row]:
    """Whether the program may go on at the line itself."""
    where = "" if resume.at is None else f", at {place(resume.at, units)} on the control"
    if resume.why_not:
        begins = f"Line {resume.line} begins {WHY_NOT[resume.why_not]}{where}"
        yield Row("no", f"{begins}: do not go on there.", "stop")
    else:
        yield Row("", f"Line {resume.line} begins above all that stands{where}.")


def entry_rows(resume: Resume, units: Units) -> Iterator[Row]:
    """The lines from which it may, before and after."""
    if resume.back is None:
        yield Row("from", "the program's first line: no line before this one begins with a rapid above all "
                          "that stands")
    elif resume.why_not:
        yield Row("from", entry_words(resume.back, resume, units))
    if resume.forth is not None and resume.why_not:
        yield Row("or", f"{entry_words(resume.forth, resume, units)}; what lies between stays uncut")


def entry_words(entry: Entry, resume: Resume, units: Units) -> str:
    return (f"line {entry.line}: the tip is then at {place(entry.shown, units)}, above all that stands; "
            f"{clock(entry.before)} of {clock(resume.seconds)} lie before it")


def set_rows(resume: Resume, result: Result) -> Iterator[Row]:
    """What the lines before the entry had set, which a control forgets."""
    units, state, machine = result.job.units, resume.state, result.job.machine
    cutter = result.job.cutter(state.cutter)
    said = [" ".join(resume.codes) or "no code was set before it"]
    said += [f"{cutter.label} in the spindle"] if cutter is not None else []
    if state.spindle != Spindle.STILL and state.speed is not None:
        said.append(f"S{state.speed:g} {'M3' if state.spindle == Spindle.CLOCKWISE else 'M4'}" + (
            "" if machine.spin_up is None else f", {units.text(machine.spin_up, 'time')} to come up"))
    said += [code for code, on in (("M7", state.mist), ("M8", state.flood)) if on]
    said += [f"F{units.digits(resume.feed, 'feed')}"] if resume.feed is not None else []
    yield Row("set", "; ".join(said))


def go_rows(resume: Resume, units: Units) -> Iterator[Row]:
    """The way there, and what no program tells."""
    if resume.back is not None and resume.above is not None:
        x, y, z = (units.digits(each) for each in resume.back.shown)
        yield Row("go", f"Z{units.digits(resume.above)} or higher first (highest is {resume.over}); then "
                        f"X{x} Y{y}; start the spindle; then Z{z}; then line {resume.back.line}.")
    if resume.moved:
        yield Row("first", f"{', '.join(resume.moved)}: what it moved must be in force as it was; where the "
                           "control was switched off it is lost.", "caution")
    yield Row("first", "Where power failed, the machine stalled or hit something, its place is lost: home it "
                       "and zero again. A cutter that was changed is touched off. Screws and clamps stand as "
                       "they did at that line.")
