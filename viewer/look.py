"""How a picture looks: its size, from where, in which colours.

The law: names of our own for what can be chosen; a wrong one is told with those that are right.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from .errors import Refused

VIEWS = {  # toward the camera, from the middle of the board; X right, Y away from the operator, Z up
    "operator": (-0.03, -0.66, 0.86),
    "above": (0.0, -0.0005, 1.09),
    "left": (-0.78, -0.36, 0.66),
    "right": (0.78, -0.36, 0.66),
    "back": (0.03, 0.66, 0.86),
}
COLOURINGS = {  # what a surface's colours tell; relief.py gives them
    "wanted": "distance from the wanted face",
    "height": "height",
    "line": "the line that cut it last",
    "stage": "the stage that cut it last",
}
LEAST, MOST = 200, 8000  # pixels


@dataclass(frozen=True)
class Look:
    """size: width and height in pixels; view: one of VIEWS; colouring: one of COLOURINGS."""

    size: tuple[int, int] = (1600, 1000)
    view: str = "operator"
    colouring: str = "wanted"


def look(size: str | None, view: str | None, colouring: str | None) -> Look:
    """From what was typed. Raises Refused."""
    usual = Look()
    return Look(usual.size if size is None else _size(size),
                _one_of(view or usual.view, VIEWS, "--picture-from"),
                _one_of(colouring or usual.colouring, COLOURINGS, "--picture-colours"))


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,5})\s*[xX×]\s*(\d{1,5})", text.strip())
    if found is None or not all(LEAST <= int(side) <= MOST for side in found.groups()):
        raise Refused(f"--picture-size {text}: write width and height as 1600x1000, "
                      f"each from {LEAST} to {MOST}")
    return int(found[1]), int(found[2])


def _one_of(name: str, known: dict, option: str) -> str:
    if name not in known:
        raise Refused(f"{option} {name}: one of {', '.join(known)}")
    return name
