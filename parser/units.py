"""Units as a person wrote them and wants to read them.

The law: inside the program everything is millimetres, mm/min, rpm, degrees and seconds. A number
meets an inch here only: on its way in (`MM_PER_INCH`) and on its way out (`Units.number`, `Units.text`).
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

MM_PER_INCH = 25.4


class Dimension(NamedTuple):
    """How a quantity is shown: its power of length, then sign and decimals in mm and in inch jobs."""

    power: int
    mm: str
    inch: str
    decimals_mm: int
    decimals_inch: int


DIMENSIONS = {name: Dimension(*row) for name, row in {
    "length": (1, "mm", "in", 3, 4),
    "fine": (1, "mm", "in", 4, 5),
    "chip": (1, "mm", "in", 3, 4),
    "feed": (1, "mm/min", "in/min", 0, 1),
    "area": (2, "mm²", "in²", 2, 4),
    "volume": (3, "mm³", "in³", 0, 3),
    "speed": (0, "rpm", "rpm", 0, 0),
    "power": (0, "kW", "kW", 3, 3),
    "angle": (0, "°", "°", 2, 2),
    "time": (0, "s", "s", 1, 1),
    "count": (0, "", "", 0, 0),
    "ratio": (0, "", "", 2, 2),
    "percent": (0, "%", "%", 0, 0),
    "": (0, "", "", 3, 3),
}.items()}
SIGNIFICANT = 5  # digits of an area or volume before its decimals are left out
FINE = 0.1  # mm: above it one decimal less tells as much of a small gap or ridge
NOTHING = 1e-7  # a smaller number is what arithmetic left of 0


class Units(StrEnum):
    """The unit that a job file is written in and its findings are shown in."""

    MM = "mm"
    INCH = "inch"

    @property
    def scale(self) -> float:
        """Millimetres in one of this unit."""
        return MM_PER_INCH if self is Units.INCH else 1.0

    def number(self, value: float, dimension: str = "length") -> float:
        """`value` (mm, mm/min, mm², …) as a number of this unit; other dimensions unchanged."""
        power = DIMENSIONS[dimension].power
        return value / self.scale**power

    def sign(self, dimension: str = "length") -> str:
        """The unit's sign for a dimension: "mm", "in/min", "rpm", …"""
        shown = DIMENSIONS[dimension]
        return shown.inch if self is Units.INCH else shown.mm

    def text(self, value: float, dimension: str = "length") -> str:
        """`value` (mm inside) as a person reads it, with its unit: "0.4 mm", "1200 mm/min"."""
        number = self.digits(value, dimension)
        sign = self.sign(dimension)
        return number + sign if sign in ("°", "%") else f"{number} {sign}".rstrip()

    def digits(self, value: float, dimension: str = "length") -> str:
        """As `text`, without the unit; small numbers keep two significant digits, large areas and volumes
        no more decimals than their size makes sense of."""
        shown = DIMENSIONS[dimension]
        decimals = shown.decimals_inch if self is Units.INCH else shown.decimals_mm
        number = self.number(value, dimension)
        if abs(value) < NOTHING:
            return "0"
        if dimension == "fine" and abs(value) >= FINE:
            decimals -= 1
        if shown.power > 1:
            decimals = min(decimals, max(0, SIGNIFICANT - len(str(int(abs(number))))))
        while decimals and decimals < 8 and number and abs(number) < 2 * 10.0**-decimals:
            decimals += 1
        written = f"{number:.{decimals}f}"
        if "." in written:
            written = written.rstrip("0").rstrip(".")
        return "0" if written in ("-0", "") else written
