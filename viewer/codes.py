"""`proveout explain codes`: every code that is known, and whether it is simulated, read only, or reported.

The law: made from the tables that the interpreter itself works by (modes, handlers, dialects), so that the
page cannot say anything else than what is done. Only the words for a simulated code stand here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from enum import StrEnum
from itertools import groupby

from ..parser.cycles import CYCLES
from ..parser.dialect import Dialect, load_dialect, shipped
from ..parser.handlers import HANDLERS, nothing
from ..parser.modes import BY_NAME, QUADRANTS, Axes, Code, Effect, Group

NAMED = ("report", "standard", "labelled", "usermacro", "compact")  # of controls; the rest are readings


class Treated(StrEnum):
    """What is done with a code."""

    SIMULATED = "simulated"
    READ = "read only"  # the path does not depend on it
    REPORTED = "reported"  # a finding, and what it hides of the path is unknown


HIDES = {Effect.LINE: "where its line ends is unknown", Effect.MODE: "its moves have no place",
         Effect.ALL: "no move has a place until it ends"}

WORDS = {
    "G0": "rapid", "G1": "straight feed", "G2": "arc clockwise", "G3": "arc counter-clockwise",
    "G5": "cubic spline", "G5.1": "quadratic spline", "G5.2": "control point of a spline with weights",
    "G5.3": "end of that spline: it runs", "G33": "thread", "G33.1": "rigid tapping",
    "G38.2": "probe toward, stop if missed: only the machine knows where it ends",
    "G38.3": "probe toward: only the machine knows where it ends",
    "G38.4": "probe away, stop if missed: only the machine knows where it ends",
    "G38.5": "probe away: only the machine knows where it ends",
    "G31": "move until a signal: only the machine knows where it ends", "G80": "end of cycles",
    "G73": "drill, breaking chips", "G81": "drill", "G82": "drill with dwell", "G83": "drill in pecks",
    "G85": "bore, feed out", "G86": "bore, spindle stops, rapid out", "G89": "bore with dwell, feed out",
    "G4": "dwell", "G10": "set a work offset (L2, L20) or a cutter's row (L1, L10 to L13)", "G28": "go home",
    "G30": "go to the second home", "G28.1": "store home", "G30.1": "store the second home",
    "G52": "local offset", "G53": "machine coordinates for a line", "G92": "set the position's numbers",
    "G92.1": "end G92, forget it", "G92.2": "end G92, keep it", "G92.3": "bring G92 back",
    "G17": "plane XY", "G18": "plane ZX", "G19": "plane YZ", "G20": "inch", "G21": "millimetres",
    "G90": "absolute", "G91": "incremental",
    "G90.1": "arc centres absolute", "G91.1": "arc centres incremental",
    "G93": "F is inverse time", "G94": "F is per minute", "G95": "F is per turn",
    "G40": "cutter radius compensation off", "G41": "compensation left", "G42": "compensation right",
    "G41.1": "compensation left by D", "G42.1": "compensation right by D", "G43": "tool length offset",
    "G43.1": "tool length offset written in the line", "G43.2": "a second tool length offset on top",
    "G44": "tool length offset, taken off", "G54.1": "further work offset (P)",
    "G49": "tool length offset off", "G98": "cycles return to the old height", "G99": "cycles return to R",
    **{f"G{53 + n}": f"work offset {n}" for n in range(1, 7)},
    **{f"G59.{n}": f"work offset {6 + n}" for n in range(1, 4)},
    "G61": "exact path", "G61.1": "exact stop", "G64": "blended path", "G97": "S is rpm",
    "G50": "scaling off; with S a speed limit", "G51": "scaling",
    "G50.1": "mirroring off", "G51.1": "mirroring",
    "G68": "rotation", "G69": "rotation off", "G15": "polar coordinates off", "G16": "polar coordinates",
    "M0": "stop", "M1": "optional stop", "M2": "end", "M30": "end", "M60": "stop, change of pallet",
    "M6": "cutter change", "M3": "spindle clockwise", "M4": "spindle counter-clockwise", "M5": "spindle off",
    "M7": "mist", "M8": "flood", "M9": "coolant off", "M48": "override knobs on", "M49": "override knobs off",
}


def treated(code: Code, dialect: Dialect) -> Treated:
    """What is done with a code under a dialect that takes it."""
    if code.name in QUADRANTS and dialect["arc.quadrant"] == "codes":
        return Treated.SIMULATED
    if code.served:
        return Treated.READ if HANDLERS.get(code.group, (0, None))[1] is nothing else Treated.SIMULATED
    if _by_dialect(code, dialect):
        return Treated.SIMULATED
    return Treated.READ if code.effect is Effect.NOTHING else Treated.REPORTED


def _by_dialect(code: Code, dialect: Dialect) -> bool:
    """Codes that are simulated where the dialect says what they do."""
    if code.group in (Group.CALL, Group.MACRO):
        flow = dialect["flow.kind"]
        return flow in ("macros", "both") or (code.group is Group.CALL and flow != "none")
    if code.drills:
        return dialect["cycle.codes"].get(code.name, "") in CYCLES
    return code.name in dialect["units.codes"]


def best(code: Code) -> Treated:
    """What is done with it by a dialect that does most: one that takes it, and what it then does."""
    done = {treated(code, dialect) for dialect in _dialects() if dialect.takes(code.name)}
    return next(each for each in Treated if each in done) if done else Treated.REPORTED


def said(code: Code) -> str:
    """In words: what it does, and what it hides where it is reported."""
    words = WORDS.get(code.name, code.why)
    hidden = HIDES.get(code.effect) if code.effect is not None else None
    return f"{words}: {hidden}" if hidden and best(code) is Treated.REPORTED else words


def page() -> str:
    """The whole page, Markdown in a fixed-width block."""
    return "\n".join([
        "# codes", "",
        "Every code that is known, and what is done with it by a dialect that takes it:", "",
        "- **simulated**: what it does to the path, the spindle, the coolant or the program is followed.",
        "- **read only**: it is understood, and the path does not depend on it.",
        "- **reported**: a finding at its line; what it hides of the path has no place.",
        "",
        "A code that is not here is the finding `code-unknown`; one that the chosen dialect does not take is "
        "`code-unsupported`.", "", "```", *rows(), "```", "",
        "Taken by: " + ", ".join(f"**{n[0].upper()}** {n} ({load_dialect(n).title})" for n in NAMED)
        + "; a small letter: taken there, and reported.",
        "The readings `union` and `forgiving` take every code. `XYZ` among the words: any axis."])


def rows() -> Iterator[str]:
    """One line a code; neighbours that are alike share one."""
    yield f"{'code':<9} {'':<10} {'taken':<6} {'words':<12} what it is"
    for (about, _), same in groupby(enumerate(sorted(BY_NAME.values(), key=number)), _alike):
        names = [code.name for _, code in same]
        shown = names[0] if len(names) == 1 else f"{names[0]}-{names[-1]}"
        yield f"{shown:<9} {about}".rstrip()


def number(code: Code) -> tuple[str, float]:
    return code.name[0], float(code.name[1:])


def _alike(placed: tuple[int, Code]) -> tuple[str, float]:
    """The same for codes whose numbers follow each other and whose rows are the same."""
    place, code = placed
    return _row(code), number(code)[1] - place


def _row(code: Code) -> str:
    words = ("XYZ" if code.axes is not Axes.NONE else "") + code.takes
    words = words if len(words) <= 12 else f"{words[:11]}+"
    return f"{best(code):<10} {_taken(code.name, NAMED):<6} {words:<12} {said(code)}"


def _taken(code: str, names: Iterable[str]) -> str:
    """The dialects' letters: a capital where it is simulated or read, a small one where it is reported."""
    return "".join(_letter(code, name) for name in names)


def _letter(code: str, name: str) -> str:
    dialect = load_dialect(name)
    if not dialect.takes(code):
        return "."
    return name[0] if treated(BY_NAME[code], dialect) is Treated.REPORTED else name[0].upper()


def _dialects() -> Iterator[Dialect]:
    yield from map(load_dialect, shipped())
