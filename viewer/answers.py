"""The few things that a first job file needs, from options, from questions in a terminal, or as is usual.

The law: an answer is read the same way wherever it comes from; one that makes no sense is refused with what
would do, in a terminal by asking again. Lengths are of the job's own unit.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from ..parser.bare_job import SHAPES, cutter_of
from ..parser.mistakes import JobError
from ..parser.units import MM_PER_INCH, Units
from ..sim.hardware import HardwareUnknown, head_of
from .errors import Refused
from .told import Guess, Told

Answer = TypeVar("Answer")
NUMBER = r"(\d+\.?\d*|\.\d+)"
BY = r"\s*(?:x|×|\*|by|,|\s)\s*"
NUMBERED = re.compile(r"\s*(?:T\s*)?(\d+)\s*:\s*(.*)", re.IGNORECASE)
NO = ("none", "no", "-", "0")
CORNERS = {"front left": (0.0, 0.0), "front right": (1.0, 0.0), "back left": (0.0, 1.0),
           "back right": (1.0, 1.0), "middle": (0.5, 0.5)}
INSET, SUNK = 30.0, 8.0  # mm: how far screws stand in from the edges, how deep their counterbores are


@dataclass(frozen=True)
class Tool:
    """A cutter: its number, shape, diameter."""

    number: int
    shape: str
    diameter: float


@dataclass(frozen=True)
class Answers:
    """board: width, depth, thickness · screw: None where there are none · screws: columns, rows · corner: a
    name of CORNERS · on_bed: Z is zeroed on the bed."""

    units: Units = Units.MM
    board: tuple[float, float, float] = (600.0, 400.0, 18.0)
    material: str = "MDF"
    screw: str | None = "ISO 7380-1 M6"
    screws: tuple[int, int] = (3, 2)
    inset: float = INSET
    sunk: float = SUNK
    tools: tuple[Tool, ...] = ()
    corner: str = "front left"
    on_bed: bool = False
    programs: tuple[Told, ...] = field(default=())


@dataclass(frozen=True)
class Said:
    """What was said on the command line, each as text; None: not said."""

    board: str | None = None
    material: str | None = None
    cutters: Sequence[str] = ()
    screw: str | None = None
    screws: str | None = None
    inset: str | None = None
    sunk: str | None = None
    zero: str | None = None
    inch: bool | None = None


def answers(said: Said, programs: Sequence[Told], asking: bool) -> Answers:
    """Every answer: what was said, else what is asked for (where `asking`), else what programs tell or what
    is usual. Raises Refused."""
    made = usual(programs, said.inch)

    def get(question: str, text: str | None, default: str, read: Callable[[str], Answer]) -> Answer:
        if text is not None:
            return read(text)
        return asked(question, default, read) if asking else read(default)

    width, depth, thick = made.board
    board = get("Board, width x depth x thickness", said.board, f"{width:g} x {depth:g} x {thick:g}", size)
    material = get("What is it made of", said.material, made.material, stuff)
    made = replace(made, board=board, material=material or made.material)
    made = replace(made, tools=tools(said.cutters, made, get))
    screw = get("Screws that hold it (none: no screws)", said.screw, made.screw or "none", screw_name)
    if screw is not None:
        screws = get("How many, across x deep", said.screws, "{} x {}".format(*made.screws), count)
        near = min(made.inset, min(board[:2]) / 4)
        inset = get("How far in from the edges", said.inset, f"{near:g}", length)
        sunk = get("Depth of their counterbores", said.sunk, f"{min(made.sunk, board[2] / 2):g}", length)
        made = replace(made, screws=screws, inset=inset, sunk=sunk)
        fits(made)
    corner, on_bed = get("Where zero is: a corner or the middle; Z on top or bed", said.zero,
                         f"{made.corner}, {'bed' if made.on_bed else 'top'}", zero)
    return replace(made, screw=screw, corner=corner, on_bed=on_bed)


def usual(programs: Sequence[Told], inch: bool | None) -> Answers:
    """What programs tell, and where they tell nothing what is usual."""
    told = [p.units for p in programs if p.units is not None]
    units = Units.INCH if (inch if inch is not None else bool(told) and told[0] is Units.INCH) else Units.MM
    made = Answers(units=units, programs=tuple(programs))
    width, depth, thickness = made.board
    scale, told_sizes = units.scale, [p for p in programs if p.size is not None]
    if told_sizes:
        largest = max(told_sizes, key=lambda p: p.size or (0.0, 0.0))
        width, depth = largest.size or (width, depth)
        made = replace(made, corner=largest.corner)
    sides = (max(1.0, round(side / scale, 1)) for side in (width, depth))
    return replace(made, board=(*sides, round(thickness / scale, 3)), inset=round(INSET / scale, 2),
                   sunk=round(SUNK / scale, 3))


Get = Callable[[str, "str | None", str, Callable[[str], Tool]], Tool]


def tools(said: Sequence[str], made: Answers, get: Get) -> tuple[Tool, ...]:
    """The cutters: those said, and each that a program loads and nobody spoke of."""
    found = {}
    for number, text in enumerate(said, 1):
        tool = cutter(text, made.units, number)
        found[tool.number] = tool
    guesses = {number: guess for p in made.programs for number, guess in p.cutters.items()}
    for number, guess in (guesses or ({} if found else {1: Guess()})).items():
        if number not in found:
            question = f"Cutter {number}, shape and diameter ({', '.join(SHAPES)})"
            found[number] = get(question, None, supposed(guess, number, made),
                                lambda text, number=number: cutter(text, made.units, number))
    return tuple(found[number] for number in sorted(found))


def supposed(guess: Guess, number: int, made: Answers) -> str:
    """A cutter as comments speak of it; of what they do not say the usual."""
    drills = any(p.holes and p.z is None for p in made.programs if number in p.cutters)
    shape = guess.shape or ("drill" if drills else "facing")
    diameter = guess.diameter or {"facing": MM_PER_INCH, "drill": 6.6}.get(shape, 6.0)
    return f"{shape} {round(diameter / made.units.scale, 4):g}"


def asked(question: str, default: str, read: Callable[[str], Answer]) -> Answer:
    """Ask until an answer can be used; an empty line takes the default."""
    while True:
        print(f"{question} [{default}]: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise Refused("the questions were not answered to the end; nothing was written")
        try:
            return read(line.strip() or default)
        except Refused as bad:
            print(f"  {bad}", file=sys.stderr)


# --- reading an answer --------------------------------------------------------------------------------

def size(text: str) -> tuple[float, float, float]:
    found = re.fullmatch(rf"\s*{NUMBER}{BY}{NUMBER}{BY}{NUMBER}\s*(?:mm|in|inch)?\s*", text, re.IGNORECASE)
    if found is None or not all(float(each) > 0 for each in found.groups()):
        raise Refused(f'"{text}" is no size of a board; give its width, depth and thickness: 600 x 400 x 18')
    return float(found[1]), float(found[2]), float(found[3])


def stuff(text: str) -> str:
    """A material by any name: one that no table knows is told where it matters."""
    if not any(each.isalpha() for each in text):
        raise Refused(f'"{text}" is no material; say what the board is: MDF, plywood, acetal, …')
    return text.strip()


def count(text: str) -> tuple[int, int]:
    found = re.fullmatch(rf"\s*(\d+){BY}(\d+)\s*", text, re.IGNORECASE)
    if found is None or not (0 < int(found[1]) <= 100 and 0 < int(found[2]) <= 100):
        raise Refused(f'"{text}": give how many screws stand across and how many deep: 3 x 2')
    return int(found[1]), int(found[2])


def length(text: str) -> float:
    found = re.fullmatch(rf"\s*{NUMBER}\s*(?:mm|in|inch)?\s*", text, re.IGNORECASE)
    if found is None or not float(found[1]) > 0:
        raise Refused(f'"{text}": give a number over 0')
    return float(found[1])


def cutter(text: str, units: Units, number: int) -> Tool:
    """ "facing 25.4", or with its number "2: drill 6.6"; a size with no unit is in the job's."""
    numbered = NUMBERED.fullmatch(text)
    number, words = (int(numbered[1]), numbered[2]) if numbered else (number, text)
    try:
        made, _ = cutter_of(words if re.search(r"(?:mm|in|inch|\")\s*$", words, re.IGNORECASE)
                            else words + (" in" if units is Units.INCH else " mm"))
    except JobError as bad:
        raise Refused("; ".join(each.message for each in bad.mistakes)) from None
    return Tool(number, made.shape, round((made.diameter or 0.0) / units.scale, 6))


def screw_name(text: str) -> str | None:
    if text.strip().lower() in NO:
        return None
    try:
        return head_of(text).name
    except HardwareUnknown as bad:
        raise Refused(str(bad)) from None


def zero(text: str) -> tuple[str, bool]:
    words = text.lower().replace(",", " ").replace("centre", "middle").replace("center", "middle").split()
    on_bed = "bed" in words
    corner = " ".join(word for word in words if word not in ("bed", "top", "on", "z"))
    if corner not in CORNERS or ("top" in words and on_bed):
        raise Refused(f'"{text}": give one of {", ".join(CORNERS)}, and top or bed: front left, top')
    return corner, on_bed


def fits(made: Answers) -> None:
    """Raises Refused where the screws do not go into the board."""
    width, depth, thickness = made.board
    if made.sunk >= thickness:
        raise Refused(f"counterbores {made.sunk:g} deep go through a board of {thickness:g}: less deep")
    if 2 * made.inset >= min(width, depth):
        raise Refused(f"screws {made.inset:g} in from the edges do not fit a board of {width:g} x {depth:g}")
