"""What must hold between the keys of a job file: choices, references, one thing under another.

The law: each rule is a row of a table, works on the keys as written, and leaves what is no such key or of a
wrong type alone: that is another mistake, told elsewhere. All lengths compared are of the file's own unit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeGuard

from .job import Board, Change, Clamp, Corner, Face, Fastener, Holes, Opening, Part, Recess, Travel
from .jobkeys import tables_in
from .mistakes import Report, meant, shown
from .quantities import LARGEST
from .toml_places import Path

Table = Mapping[str, Any]


@dataclass(frozen=True)
class Choice:
    """Alternatives that exclude each other, each whole or not at all; `needed`: one must be there;
    `together`: several may be."""

    ways: tuple[tuple[str, ...], ...]
    needed: bool = True
    together: bool = False

    def joins(self, one: str, other: str) -> bool:
        """Whether two keys belong to one way."""
        return any({one, other} <= set(way) for way in self.ways)

    @property
    def said(self) -> str:
        return "give one of: " + "; ".join(" and ".join(way) for way in self.ways)


CHOICES: Mapping[type, tuple[Choice, ...]] = {
    Board: (Choice((("x", "y"), ("outline",), ("parts",))),
            Choice((("top",), ("survey",), ("surface",)), needed=False)),
    Part: (Choice((("x", "y"), ("outline",))),),
    Opening: (Choice((("x", "y"), ("diameter", "at"), ("diameter", "grid"))),),
    Travel: (Choice((("x",), ("y",), ("z",)), together=True),),
    Corner: (Choice((("radius",), ("chamfer",))),),
    Fastener: (Choice((("screw",), ("head",))), Choice((("at",), ("grid",))),
               Choice((("seat",), ("sunk",)), needed=False)),
    Recess: (Choice((("diameter", "depth"), ("cut_by",))),),
    Clamp: (Choice((("x", "y"), ("at", "diameter"), ("from", "to", "width"))), Choice((("z",), ("above",)))),
    Change: (Choice((("at_stop",), ("at_line",))),),
    Holes: (Choice((("at",), ("grid",), ("like",))),),
    Face: (Choice((("x", "y"), ("outline",)), needed=False), Choice((("z",), ("depth",)))),
}

# a pattern of key paths ("*": every element) and the keys whose values it may name; what those are called
REFERENCES = {
    "stages.*.fitted.*": ("fasteners.*.name", "group of screws"),
    "stages.*.changes.*.fit.*": ("fasteners.*.name", "group of screws"),
    "stages.*.changes.*.unfit.*": ("fasteners.*.name", "group of screws"),
    "stages.*.clamps.*": ("clamps.*.name", "clamp"),
    "stages.*.changes.*.remove.*": ("clamps.*.name", "clamp"),
    "stages.*.changes.*.add.*": ("clamps.*.name", "clamp"),
    "stages.*.parts.*": ("board.parts.*.name", "part of the board"),
    "fasteners.*.part": ("board.parts.*.name", "part of the board"),
    "clamps.*.part": ("board.parts.*.name", "part of the board"),
    "obstacles.*.part": ("board.parts.*.name", "part of the board"),
    "stages.*.cutter": ("cutters.*.number", "cutter"),
    "stages.*.touch.*.cutter": ("cutters.*.number", "cutter"),
    "stages.*.changes.*.cutter": ("cutters.*.number", "cutter"),
    "stages.*.changes.*.touch.cutter": ("cutters.*.number", "cutter"),
    "stages.*.holes.*.like": ("bed.openings.*.name", "opening of the bed"),
    "fasteners.*.recess.cut_by": ("stages.*.name", "stage"),
}

UNIQUE = ("cutters.*.number", "fasteners.*.name", "stages.*.name", "board.parts.*.name",
          "bed.openings.*.name")

# in tables at a pattern: the first key is less than (or, with "<=", no more than) `times` the second
UNDER = (
    ("cutters.*", "core", "<", 1.0, "diameter"), ("cutters.*", "tip", "<", 1.0, "diameter"),
    ("cutters.*", "corner.radius", "<=", 0.5, "diameter"),
    ("cutters.*", "corner.chamfer", "<=", 0.5, "diameter"),
    ("cutters.*", "edges", "<=", 1.0, "seats"), ("cutters.*", "flute_length", "<=", 1.0, "stickout"),
    ("bed.openings.*", "diameter", "<=", 1.0, "mouth"),
)


def check_rules(tree: Table, report: Report) -> None:
    """Tells `report` of everything in a TOML tree that does not go together."""
    for path, table, values in tables_in(tree):
        for choice in CHOICES.get(table, ()):
            check_choice(choice, path, values, report)
    for rule in (check_references, check_unique, check_under):
        rule(tree, report)


def matching(tree: Any, pattern: str, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """The values at a pattern of key paths; "*" is every element of a list, or one table in its place."""
    name, _, rest = pattern.partition(".")
    if name == "*":
        inside = [((*path, n), each) for n, each in enumerate(tree)] if isinstance(tree, list) else []
        inside += [(path, tree)] if isinstance(tree, Mapping) else []
    else:
        inside = [((*path, name), tree[name])] if isinstance(tree, Mapping) and name in tree else []
    for deeper, value in inside:
        yield from matching(value, rest, deeper) if rest else [(deeper, value)]


def named(tree: Table, pattern: str) -> list:
    """The names or numbers at a pattern, in the file's order."""
    return [v for _, v in matching(tree, pattern) if isinstance(v, str | int) and not isinstance(v, bool)]


def readable(tree: Table, pattern: str) -> bool:
    """Whether everything that should have a name at a pattern has one that can be a name."""
    *way, _, key = pattern.split(".")
    lists: Any = tree
    for part in way:
        lists = lists.get(part, []) if isinstance(lists, Mapping) else None
    unnamed = way == ["bed", "openings"]  # an opening needs no name
    return isinstance(lists, list) and all(
        isinstance(each, Mapping) and (can_name(each.get(key), key) or (unnamed and not each.get(key)))
        for each in lists)


def can_name(value: Any, key: str) -> bool:
    """Whether a value is of the type that names (or numbers) have."""
    if key == "number":
        return isinstance(value, int) and not isinstance(value, bool) and value >= 0
    return isinstance(value, str) and value.strip() != ""


def check_choice(choice: Choice, path: Path, table: Table, report: Report) -> None:
    mine = [key for key in table if any(key in way for way in choice.ways)]
    if not mine and choice.needed:
        report.key(path, "something is missing", choice.said)
    if not mine or choice.together:
        return
    allowed = [way for way in choice.ways if set(mine) <= set(way)]
    if not allowed:
        for other in [key for key in mine if not choice.joins(mine[0], key)] or mine[-1:]:
            report.key((*path, other), f'"{other}" does not go with "{mine[0]}"', choice.said)
    elif not any(set(way) == set(mine) for way in allowed):
        lacking = [key for key in allowed[0] if key not in mine]
        report.value((*path, lacking[0]), f'missing beside "{mine[0]}"', choice.said)


def check_references(tree: Table, report: Report) -> None:
    """A name that refers to nothing; where a name that it could mean is wrong itself, that is told alone."""
    for pattern, (pool, called) in REFERENCES.items():
        if not readable(tree, pool):
            continue
        names = named(tree, pool)
        for path, value in matching(tree, pattern):
            if isinstance(value, str | int) and not isinstance(value, bool) and value not in names:
                quoted = f'"{value}"' if isinstance(value, str) else value
                known = [str(name) for name in dict.fromkeys(names)]
                report.value(path, f"{quoted} is no {called} of this job",
                             meant(str(value), known, f"the job describes no {called}"))


def check_unique(tree: Table, report: Report) -> None:
    for pattern in UNIQUE:
        first: dict[Any, Path] = {}
        for path, value in matching(tree, pattern):
            if not isinstance(value, str | int) or isinstance(value, bool) or value == "":
                continue
            if value in first:
                report.value(path, f"{report.found(path)} a second time",
                             f"{shown(first[value])} has it already: give another")
            first.setdefault(value, path)


def check_under(tree: Table, report: Report) -> None:
    for pattern, small, sign, times, large in UNDER:
        for path, table in matching(tree, pattern):
            low_path, low = next(matching(table, small, path), ((), None))
            _, high = next(matching(table, large, path), ((), None))
            if not number(low) or not number(high) or low <= 0 or high <= 0:
                continue
            if low > high * times or (sign == "<" and low == high * times):
                most = f"{'half of ' if times == 0.5 else ''}{large} ({high:g})"
                report.value(low_path, report.found(low_path),
                             f"give {'less' if sign == '<' else 'no more'} than {most}")


def number(value: Any) -> TypeGuard[float]:
    """A number that can be reckoned with: no truth value, no NaN, nothing endless."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= LARGEST


def spot(value: Any) -> TypeGuard[list[float]]:
    """A list of two numbers that can be reckoned with."""
    return isinstance(value, list) and len(value) == 2 and all(map(number, value))
