"""The text of a first job file: what was answered, and every other key beside it, ready to be filled in.

The law: what is written is accepted as it stands, and so is each key that is only shown, once its mark is
taken away. Lengths are of the job's unit.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from math import ceil

from ..parser.units import Units
from ..sim.hardware import HardwareUnknown, head_of, washer_of
from .answers import CORNERS, Answers, Tool
from .told import Told

Programs = Mapping[str, Told | None]

ROOM = 2.0  # mm: how much wider than its head a screw's counterbore is at least
NOTES = 37  # column at which what a key means stands


def commented(made: Answers, programs: Programs) -> str:
    """The job file with everything that it may say; `programs`: what each is called in it."""
    return "\n".join([*_head(made), *_machine(made), *_bed(made), *_board(made), *_cutters(made),
                      *_screws(made), *_rest(), *_stages(made, programs)]) + "\n"


def short(made: Answers, programs: Programs) -> str:
    """The same job in as few lines as it takes."""
    width, depth, thickness = made.board
    lines = ["format = 1", *(['units = "inch"'] if made.units is Units.INCH else [])]
    lines.append(f"board = {{ material = {text(made.material)}, x = [0, {number(width)}], "
                 f"y = [0, {number(depth)}], thickness = {number(thickness)} }}")
    lines.append(f"cutters = [{', '.join(_tool_inline(tool) for tool in made.tools)}]")
    if made.screw:
        keys = (f"{key} = {value}" for key, value in _screw_keys(made))
        lines.append(f"fasteners = [{{ {', '.join(keys)} }}]")
    stages = ("{ " + ", ".join(f"{key} = {value}" for key, value in keys) + " }"
              for keys in _stages_keys(made, programs))
    return "\n".join([*lines, "stages = [", *(f"  {stage}," for stage in stages), "]"]) + "\n"


def number(value: float) -> str:
    return f"{round(value, 6):.10g}"


def text(value: str) -> str:
    """A TOML text: written as JSON writes one, which TOML takes."""
    return json.dumps(value.replace("\x7f", " "), ensure_ascii=False)


def key(line: str, note: str = "", shown: bool = False) -> str:
    """A key with what it means; `shown`: it is only an example."""
    line = f"# {line}" if shown else line
    return f"{line.ljust(NOTES - 1)} # {note}" if note else line


def _head(made: Answers) -> Iterator[str]:
    unit = "millimetres" if made.units is Units.MM else "inches"
    yield f"# The setup of one job: what stands on the machine, and which programs run on it. In {unit}."
    yield "# X goes right, Y away from you, Z up. X0 Y0 is the board's front left corner, Z0 its top."
    yield "# A line that begins with # counts for nothing: take the mark away from a key to use it. What is"
    yield "# missing is not checked, and each report says so. Check it with: proveout check job.toml"
    yield from ("format = 1", f"units = {text(made.units.value)}",
                key('title = "North half"', "what reports call this job", shown=True), "")


def _machine(made: Answers) -> Iterator[str]:
    per = made.units.scale
    guess = next((p for p in made.programs if p.dialect), None)
    yield "[machine]"
    why = f"; {guess.path.name} looks like it: {guess.why}" if guess else ""
    yield key(f"dialect = {text(guess.dialect if guess else 'standard')}",
              f"how the control reads programs{why}", True)
    yield key(f"travel = {{ x = [0, {number(830 / per)}], y = [0, {number(640 / per)}], "
              f"z = [{number(-130 / per)}, 0] }}", "machine coordinates", True)
    yield key(f"origin = [{number(104 / per)}, {number(62.5 / per)}, {number(-71.2 / per)}]",
              "the board's front left corner, its top, in machine coordinates", True)
    for line, note in ((f"rapid = {number(5000 / per)}", "of each axis, a minute"),
                       (f"acceleration = {number(400 / per)}", "of each axis, /s²: times count it"),
                       ("spindle = [6000, 24000]", "rpm it can turn"), ("spin_up = 3", "s from M3 to speed"),
                       (f"max_feed = {number(6000 / per)}", "the fastest feed"),
                       ("spindle_power = 1.5", "kW"), ('m8 = "extraction"', "or liquid, air"),
                       (f"nose = [{{ diameter = {number(42 / per)}, length = {number(25 / per)} }}]",
                        "nut and spindle, from the nut's lower face up")):
        yield key(line, note, True)
    yield ""


def _bed(made: Answers) -> Iterator[str]:
    per = made.units.scale
    yield from ("[bed]", key(f"top = {number(-made.board[2])}", "Z of the bed under the board"))
    yield key(f"openings = [{{ name = \"tapped holes\", diameter = {number(5 / per)}, "
              f"depth = {number(15 / per)}, at = [[{number(60 / per)}, {number(50 / per)}]] }}]", shown=True)
    yield ""


def _board(made: Answers) -> Iterator[str]:
    width, depth, thickness = made.board
    per = made.units.scale
    yield from ("[board]", f"material = {text(made.material)}", f"x = [0, {number(width)}]",
                f"y = [0, {number(depth)}]", f"thickness = {number(thickness)}")
    for told in made.programs:
        if told.reach is not None:
            (x0, x1), (y0, y1) = told.reach[:2]
            yield (f"# {told.path.name} feeds from X{made.units.digits(x0)} Y{made.units.digits(y0)} to "
                   f"X{made.units.digits(x1)} Y{made.units.digits(y1)}")
    yield key(f"keep = {number(5 / per)}", "least thickness to leave", True)
    yield key(f"keep_over_heads = {number(1 / per)}", "least board over a screw's head", True)
    yield ""


def _cutters(made: Answers) -> Iterator[str]:
    per = made.units.scale
    for tool in made.tools:
        yield "[[cutters]]"
        yield key(f"number = {tool.number}", "the program's T word")
        yield from (f"shape = {text(tool.shape)}", f"diameter = {number(tool.diameter)}")
        yield key("edges = 2", "those that really cut; inserts taken out do not")
        yield key("max_rpm = 18000", "the speed marked on it", True)
        yield key(f"stickout = {number(32 / per)}", "from its tip to the nut", True)
        if tool.shape == "facing":
            yield key(f"core = {number(tool.diameter * 0.5)}", "the middle that has no cutting edge", True)
        if tool.shape != "drill":
            yield key(f"deepest_pass = {number(1 / per)}", "in one pass", True)
            yield key(f"plunge = {number(500 / per)}", "fastest feed straight down", True)
        yield ""


def _tool_inline(tool: Tool) -> str:
    return (f"{{ number = {tool.number}, shape = {text(tool.shape)}, diameter = {number(tool.diameter)}, "
            "edges = 2 }")


def _screws(made: Answers) -> Iterator[str]:
    if made.screw is None:
        return
    notes = {"screw": "from the tables; or head = { diameter, height }", "grid": "or at = [[x, y], …]",
             "seat": "Z that head or washer rests on", "recess": "its counterbore, already cut"}
    yield "[[fasteners]]"
    for name, value in _screw_keys(made):
        yield key(f"{name} = {value}", notes.get(name, ""))
    yield key(f"washer = {text(_washer(made.screw))}", "under the head", True)
    yield key(f"length = {number(25 / made.units.scale)}", "under the head", True)
    yield ""


def _washer(screw: str) -> str:
    """The plain washer of a screw's thread, where the tables have one."""
    thread = screw.rpartition(" ")[2]
    try:
        _ = washer_of(f"ISO 7089 {thread}")
    except HardwareUnknown:
        return "ISO 7089 M6"
    return f"ISO 7089 {thread}"


def _screw_keys(made: Answers) -> Iterator[tuple[str, str]]:
    assert made.screw is not None
    width, depth, _ = made.board
    columns, rows = made.screws
    pitch = [((side - 2 * made.inset) / (many - 1)) if many > 1 else side or 1.0
             for side, many in ((width, columns), (depth, rows))]
    head = ceil((head_of(made.screw).diameter + ROOM) * 2) / 2 / made.units.scale
    yield "name", '"screws"'
    yield "screw", text(made.screw)
    yield "grid", (f"{{ start = [{number(made.inset)}, {number(made.inset)}], count = [{columns}, {rows}], "
                   f"pitch = [{number(max(pitch[0], 1e-3))}, {number(max(pitch[1], 1e-3))}] }}")
    yield "seat", number(-made.sunk)
    yield "recess", f"{{ diameter = {number(head)}, depth = {number(made.sunk)} }}"


def _rest() -> Iterator[str]:
    yield from ("# [[clamps]]                        # a clamp, for each body of it such a table",
                '# name = "front left"', "# x = [-40, 25]", "# y = [-20, 15]",
                key("above = 22", "how far it stands over the board's top", True), "")


def _stages(made: Answers, programs: Programs) -> Iterator[str]:
    for told, keys in zip(programs.values(), _stages_keys(made, programs), strict=True):
        yield "[[stages]]"
        notes = {"zero": "where the program's X0 Y0 Z0 is on the board",
                 "face": "what is to be flat; z on the board", "cutter": "in the spindle at the start"}
        for word, value in keys:
            yield key(f"{word} = {value}", notes.get(word, ""))
        yield key(f"start = [0, 0, {number(30 / made.units.scale)}]", "where the cutter stands then", True)
        if made.screw:
            yield key('fitted = ["screws"]', "the screws that are in; left out: all", True)
        for stop, (code, line) in enumerate(told.stops if told else (), 1):
            yield key(f"changes = [{{ at_stop = {stop}, remove = [\"front left\"] }}]",
                      f"{code} on line {line}: what is moved there", True)
        if told and told.holes:
            place = f"{number(60 / made.units.scale)}, {number(50 / made.units.scale)}"
            yield key(f"holes = [{{ at = [[{place}]], through = true }}]",
                      f"those that are wanted; it drills {told.holes}", True)
        yield ""


def _stages_keys(made: Answers, programs: Programs) -> Iterator[list[tuple[str, str]]]:
    """The keys of each stage; two programs of one name make two stages."""
    names: list[str] = []
    for program, told in programs.items():
        name = program.rpartition("/")[2].rpartition(".")[0] or program
        names.append(name if name not in names else f"{name} {len(names) + 1}")
        yield list(_stage_keys(made, names[-1], program, told))


def _stage_keys(made: Answers, name: str, program: str, told: Told | None) -> Iterator[tuple[str, str]]:
    yield "name", text(name)
    yield "program", text(program)
    yield "zero", "[" + ", ".join(map(number, zero_of(made))) + "]"
    first = next(iter(told.cutters), None) if told and told.cutters else made.tools[0].number
    yield "cutter", str(first)
    if told is None:  # nothing cuts it: the first check says so
        yield "face", f"{{ z = {number(-0.4 / made.units.scale)} }}"
    elif told.z is not None and not told.holes:
        yield "face", f"{{ z = {number(told.z / made.units.scale + zero_of(made)[2])} }}"


def zero_of(made: Answers) -> tuple[float, float, float]:
    """Where zero is in the board frame."""
    width, depth, thickness = made.board
    right, back = CORNERS[made.corner]
    return right * width, back * depth, -thickness if made.on_bed else 0.0

