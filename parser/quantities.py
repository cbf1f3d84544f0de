"""The values that a job file may hold: each says its dimension, its bounds, and how a person is told of them.

The law: every number of the job is a `Measure` with a dimension, so an inch job becomes millimetres by
its types alone: the unit comes as the validation's context, and no key can be forgotten on the way.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Annotated, Any, get_args

from annotated_types import Len
from pydantic import AfterValidator, BeforeValidator, Strict, StrictBool, StrictStr, ValidationInfo
from pydantic_core import PydanticCustomError, core_schema

from .units import MM_PER_INCH

# power of length in each dimension that a job file knows
DIMENSIONS = {"length": 1, "feed": 1, "acceleration": 1, "speed": 0, "time": 0, "angle": 0, "power": 0}
LARGEST = 1e7  # no number of a job is larger: ten kilometres, ten million turns


@dataclass(frozen=True)
class Measure:
    """A number with a dimension (a key of DIMENSIONS) and its bounds; comes out in mm, mm/min or mm/s²."""

    dimension: str
    over: float | None = None
    least: float | None = None
    under: float | None = None

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        least = -LARGEST if self.least is None else self.least
        number = core_schema.float_schema(strict=True, allow_inf_nan=False, gt=self.over, ge=least,
                                          lt=self.under, le=LARGEST)
        if not DIMENSIONS[self.dimension]:
            return number
        return core_schema.with_info_after_validator_function(self._in_mm, number)

    def _in_mm(self, value: float, info: ValidationInfo) -> float:
        inches = bool(info.context) and info.context.get("inch", False)
        return value * MM_PER_INCH ** DIMENSIONS[self.dimension] if inches else value

    @property
    def said(self) -> str:
        """What a person is told would be accepted: "a number over 0"."""
        bounds = [f"over {self.over:g}"] if self.over is not None else []
        bounds += [f"{self.least:g} or more"] if self.least is not None else []
        bounds += [f"under {self.under:g}"] if self.under is not None else []
        return " ".join(["a number", " and ".join(bounds)]).rstrip()


@dataclass(frozen=True)
class Whole:
    """A whole number that counts or numbers something."""

    least: int = 0

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.int_schema(strict=True, ge=self.least, le=2**31 - 1)

    @property
    def said(self) -> str:
        return f"a whole number, {self.least} or more"


MOST_PLACES = 100_000  # of one grid


@dataclass(frozen=True)
class Said:
    """How a person is told of a type that is no plain number."""

    said: str


def _few(count: tuple[int, int]) -> tuple[int, int]:
    if count[0] * count[1] > MOST_PLACES:
        raise PydanticCustomError("many", "too many places")
    return count


def _ascending(pair: tuple[float, float]) -> tuple[float, float]:
    if pair[0] >= pair[1]:
        raise PydanticCustomError("range", "low before high")
    return pair


def _listed(value: Any) -> Any:
    return [value] if isinstance(value, dict) else value


def _no_flag(value: Any) -> Any:
    if isinstance(value, bool):
        raise PydanticCustomError("flag", "no number")
    return value


SEVERAL = BeforeValidator(_listed)  # one table stands for a list of one
WHOLE_ONE = BeforeValidator(_no_flag)  # true is no 1


def _readable(name: str) -> str:
    if not name.strip():
        raise PydanticCustomError("blank", "nothing to read")
    return name


def _outwards(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    if any(b[0] < a[0] for a, b in pairwise(points)):
        raise PydanticCustomError("outwards", "from the tip outward")
    if points[-1][0] <= 0:
        raise PydanticCustomError("outwards", "past the axis")
    return points


Text = Annotated[StrictStr, Said("a text in quotes")]
Name = Annotated[StrictStr, Len(min_length=1), AfterValidator(_readable), Said("a text in quotes, not empty")]
Flag = Annotated[StrictBool, Said("true or false")]
Day = Annotated[date, Strict(), Said("a date, as 2026-03-02")]
Count = Annotated[int, Whole(1)]
Number = Annotated[int, Whole(0)]

Counts = Annotated[tuple[Count, Count], AfterValidator(_few),
                   Said(f"how many in X and in Y, [7, 5], {MOST_PLACES:,} places at most")]

Coordinate = Annotated[float, Measure("length")]
Length = Annotated[float, Measure("length", over=0)]
Depth = Annotated[float, Measure("length", least=0)]
Feed = Annotated[float, Measure("feed", over=0)]
Acceleration = Annotated[float, Measure("acceleration", over=0)]
Speed = Annotated[float, Measure("speed", over=0)]
SpeedFromStill = Annotated[float, Measure("speed", least=0)]
Seconds = Annotated[float, Measure("time", least=0)]
Angle = Annotated[float, Measure("angle", over=0, under=180)]
Power = Annotated[float, Measure("power", over=0)]

Spot = Annotated[tuple[Coordinate, Coordinate], Said("a place in plan, [x, y]")]
Place = Annotated[tuple[Coordinate, Coordinate, Coordinate], Said("a place, [x, y, z]")]
Range = Annotated[tuple[Coordinate, Coordinate], AfterValidator(_ascending),
                  Said("two numbers, the lower first, [low, high]")]
Outline = Annotated[tuple[Spot, ...], Len(min_length=3), Said("a list of 3 corners or more, [[x, y], …]")]
Spots = Annotated[tuple[Spot, ...], Len(min_length=1), Said("a list of places, [[x, y], …]")]
Names = Annotated[tuple[Name, ...], Said("a list of names, [\"…\", \"…\"]")]
SpeedRange = Annotated[tuple[SpeedFromStill, Speed], AfterValidator(_ascending),
                       Said("two speeds, the lower first, [lowest, highest]")]
ChipRange = Annotated[tuple[Length, Length], AfterValidator(_ascending),
                      Said("two numbers over 0, the lower first, [least, most]")]
Outwards = Annotated[tuple[tuple[Depth, Coordinate], ...], Len(min_length=2), AfterValidator(_outwards),
                     Said("2 points or more from the tip outward, [[radius, height], …]")]


def said(annotation: Any) -> str:
    """What a person is told that a type accepts, "" where it has no words of its own."""
    words = [m.said for m in get_args(annotation)[1:] if hasattr(m, "said")]
    return words[-1] if words else ""
