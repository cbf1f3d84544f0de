"""How right the cut is: the worst height error against the stamping oracle, for each shape and kind of move.

    python tests/bench/accuracy_cut.py [CASES]

Random moves (30 of each kind for each shape), board of 24 x 18 mm, cells farther than 2e-3 mm from a
footprint's edge. Level, ramping and plunging moves and flat helices are closed forms (the error is
float32's); other arcs go in chords.
"""

from __future__ import annotations

import importlib.util
import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np

CELL = 1.2  # mm


def oracle() -> ModuleType:
    """The tests' oracle, from its file."""
    place = Path(__file__).parent.parent / "sim" / "stamping.py"
    spec = importlib.util.spec_from_file_location("stamping", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def kinds(tests: ModuleType, rng: np.random.Generator) -> Iterator[tuple[str, object, tuple[float, float]]]:
    """One random move of each kind: name, motion, slopes of the spindle's plane."""
    p, q = rng.uniform((1, 1, -2.5), (17, 17, -0.05), (2, 3))
    radius, start, turn = rng.uniform(0.3, 6), rng.uniform(-7, 7), rng.uniform(-6.2, 6.2)
    tilt, upright = tuple(rng.uniform(-0.01, 0.01, 2)), (0.0, 0.0)
    yield "level", tests.feed(p, (*q[:2], p[2])), upright
    yield "ramp", tests.feed(p, q), upright
    yield "plunge", tests.feed((*p[:2], 2), p), upright
    yield "level arc", tests.arc((11, 9), radius, start, turn, p[2], p[2]), upright
    yield "helix", tests.arc((11, 9), radius, start, 2 * turn, p[2], q[2]), upright
    yield "XZ arc", tests.arc((radius - 1.5, 11.0), radius, start, turn, 5, 12, plane=18), upright
    yield "YZ arc", tests.arc((9.0, radius - 1.5), radius, start, turn, 5, 12, plane=19), upright
    yield "tilted", tests.feed(p, (*q[:2], p[2])), tilt
    yield "tilted X", tests.feed(p, (q[0], *p[1:])), tilt
    yield "tilted Y", tests.feed(p, (p[0], q[1], p[2])), tilt
    yield "tilted ramp", tests.feed(p, q), tilt
    yield "tilted arc", tests.arc((11, 9), radius, start, turn, p[2], p[2]), tilt


def main() -> None:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    tests, rng, worst = oracle(), np.random.default_rng(5), defaultdict(float)
    for _ in range(cases):
        for shape, cutter in tests.CUTTERS.items():
            for kind, motion, tilt in kinds(tests, rng):
                worst[shape, kind] = max(worst[shape, kind], tests.worst(cutter, motion, tilt, CELL))
    names = list(dict.fromkeys(kind for _, kind in worst))
    print("| shape | " + " | ".join(names) + " |\n|---|" + "---|" * len(names))
    for shape in tests.CUTTERS:
        print(f"| {shape} | " + " | ".join(f"{worst[shape, kind]:.0e}" for kind in names) + " |")


if __name__ == "__main__":
    main()
