"""Curves of seconds over a size as one SVG picture: both axes logarithmic, what is linear dashed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

WIDE, HIGH, LEFT, TOP, APART = 230, 220, 50, 30, 300  # of a panel, and from one to the next


@dataclass
class Axis:
    """A logarithmic axis: whole decades, from the pixel of the first to that of the last."""

    first: float
    last: float
    start: float
    end: float

    @staticmethod
    def of(values: np.ndarray, start: float, end: float) -> Axis:
        low, high = np.floor(np.log10(values.min())), np.ceil(np.log10(values.max()))
        return Axis(low, max(high, low + 1), start, end)

    def at(self, value: np.ndarray | float) -> np.ndarray:
        part = (np.log10(value) - self.first) / (self.last - self.first)
        return self.start + part * (self.end - self.start)

    @property
    def decades(self) -> list[tuple[int, float]]:
        return [(int(k), float(self.at(10.0**k))) for k in np.arange(self.first, self.last + 1)]


def draw(path: Path, curves: dict[str, dict[int, float]]) -> None:
    """One panel for each curve, {size: seconds}."""
    panels = "".join(panel(name, LEFT + number * APART, curve)
                     for number, (name, curve) in enumerate(curves.items()))
    size = f'width="{APART * len(curves)}" height="{HIGH + 60}"'
    path.write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="11">'
                    f'<rect {size} fill="white"/>{panels}</svg>\n', encoding="utf-8")


def panel(name: str, left: float, curve: dict[int, float]) -> str:
    """A curve in its frame; threads fall as they are more, everything else grows."""
    size, taken = np.array(list(curve), float), np.array(list(curve.values()))
    x, y = Axis.of(size, left, left + WIDE), Axis.of(taken, TOP + HIGH, TOP)
    ends, foot = [TOP, TOP + HIGH], TOP + HIGH + 15
    dots = zip(x.at(size), y.at(taken), strict=True)
    ideal = taken[0] * size[0] / size if name == "threads" else taken[-1] * size / size[-1]
    shown = y.at(ideal) <= TOP + HIGH
    return "".join((
        text(left + WIDE / 2, TOP - 10, f"seconds over {name}"),
        *(line([at, at], ends, "#ddd") + text(at, foot, f"1e{k}") for k, at in x.decades),
        *(line([left, left + WIDE], [at, at], "#ddd") + text(left - 20, at + 4, f"1e{k}")
          for k, at in y.decades),
        line(x.at(size)[shown], y.at(ideal)[shown], "#888", ' stroke-dasharray="4 3"'),
        line(x.at(size), y.at(taken), "black"),
        *(f'<circle cx="{a:.1f}" cy="{b:.1f}" r="3"/>' for a, b in dots)))


def text(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle">{words}</text>'


def line(x, y, colour: str, more: str = "") -> str:
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<polyline points="{points}" fill="none" stroke="{colour}"{more}/>'
