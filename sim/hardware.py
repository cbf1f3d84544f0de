"""Screws, washers and clearance holes by name, from the published tables in data/.

The law: a name finds exactly one row or raises, naming the nearest that would; sizes are the largest that
the standard allows, mm. Each row of the tables names its source.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from . import data

WOOD = ("wood screw", "chipboard screw")


class HardwareUnknown(ValueError):
    """No table has this name; the message gives the nearest valid one."""


@dataclass(frozen=True, slots=True)
class ScrewHead:
    """A head's largest size. `angle` is the included angle of a countersunk head, None for others;
    `thread` the thread's nominal diameter, None where its name does not tell; `wood`: a wood screw."""

    name: str
    diameter: float
    height: float
    angle: float | None = None
    thread: float | None = None
    wood: bool = False

    @property
    def countersunk(self) -> bool:
        return self.angle is not None


@dataclass(frozen=True, slots=True)
class Washer:
    """A washer's outside diameter and greatest thickness."""

    name: str
    diameter: float
    thickness: float


@dataclass(frozen=True, slots=True)
class ClearanceHole:
    """Through-hole diameters of ISO 273."""

    fine: float
    medium: float
    coarse: float


def head_of(name: str) -> ScrewHead:
    """The head of a screw by its standard and thread: "ISO 7380-1 M8". Raises HardwareUnknown."""
    row = _row(name, "screw")
    angle = float(row["countersink_angle_deg"]) if row["countersink_angle_deg"] else None
    return ScrewHead(f"{row['standard']} {row['thread']}", *_sizes(row), angle, _thread(row["thread"]),
                     any(word in row["standard"] for word in WOOD))


@cache
def heads_for(head: ScrewHead) -> tuple[ScrewHead, ...]:
    """The heads of the tables (no inserts, no nuts) with the same thread, in the tables' order; none for a
    thread that is not known."""
    names = dict.fromkeys(f"{_plain(row['standard'])} {row['thread']}" for row in _table("fasteners.csv")
                          if not row["standard"].endswith("washer")
                          and not row["standard"].startswith("generic"))
    found = (head_of(name) for name in names)
    return tuple(each for each in found if head.thread is not None and each.thread == head.thread
                 and not each.wood)


def washer_of(name: str) -> Washer:
    """A washer by its standard and thread: "ISO 7089 M8". Raises HardwareUnknown."""
    row = _row(name, "washer")
    return Washer(f"{row['standard']} {row['thread']}", *_sizes(row))


@cache
def clearance_holes() -> Mapping[str, ClearanceHole]:
    """By thread: "M8"."""
    return MappingProxyType({row["thread"]: ClearanceHole(*(float(row[column]) for column in (
        "fine_H12_mm", "medium_H13_mm", "coarse_H14_mm"))) for row in _table("clearance_holes.csv")})


def _sizes(row: Mapping[str, str]) -> tuple[float, float]:
    return float(row["head_diameter_mm_max"]), float(row["head_height_mm_max"])


def _thread(text: str) -> float | None:
    metric = re.fullmatch(r"M(\d+(?:\.\d+)?)|(\d+(?:\.\d+)?) mm", text)
    inch = re.match(r"(\d+)/(\d+)", text)
    numbered = re.match(r"#(\d+)", text)
    if metric:
        return float(metric[1] or metric[2])
    if inch:
        return int(inch[1]) / int(inch[2]) * 25.4
    return (0.06 + 0.013 * int(numbered[1])) * 25.4 if numbered else None  # ASME B1.1 numbered sizes


def _row(name: str, what: str) -> Mapping[str, str]:
    table = _named(what)
    key = _key(name)
    if key in table:
        return table[key]
    nearest = _nearest(key, table)
    raise HardwareUnknown(f"{name!r} is no {what} that the tables know; the nearest is {nearest!r}")


def _nearest(key: str, table: Mapping[str, Mapping[str, str]]) -> str:
    written = {k: f"{_plain(row['standard'])} {row['thread']}" for k, row in table.items()}
    close = get_close_matches(key, written, 1, 0.0)
    return written[close[0]]


@cache
def _named(what: str) -> Mapping[str, Mapping[str, str]]:
    """Rows by every name that they answer to."""
    rows = [r for r in _table("fasteners.csv") if r["standard"].endswith("washer") == (what == "washer")]
    return MappingProxyType({_key(f"{standard} {row['thread']}"): row for row in rows
                             for standard in {row["standard"], _plain(row["standard"])}})


def _plain(standard: str) -> str:
    """A standard without what the tables say about it: "DIN 7991 (withdrawn; …)", "ISO 7089 washer"."""
    return re.sub(r"\s*\(.*\)|\s+washer$", "", standard)


def _key(name: str) -> str:
    return re.sub(r"\s+", " ", name).strip().casefold()


@cache
def _table(file: str) -> tuple[Mapping[str, str], ...]:
    text = files(data).joinpath(file).read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))
