"""What the page's scripts draw: the scene as plain lists and packed texts, ready for JSON.

The law: millimetres, board frame; names are texts that scripts only ever put down as text.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ...parser.motion import Move
from ...parser.units import MM_PER_INCH, Units
from ...sim.result import Result
from .. import relief as paint
from ..bodies import Head
from ..layout import clean
from ..scene import Path, Scene
from .charts import charts_of
from .packing import map_of, numbers
from .replay import replay_of

MOST_PIECES = 250_000  # of the path where there is no replay; with more it is neither sent nor offered
MOST_TEXT = 2_000_000  # characters of program text that are sent along


def model_of(result: Result, scene: Scene) -> dict[str, Any]:
    replay, when = replay_of(result, scene.path), standing_when(result)
    return {
        "units": units_of(scene.units), "map": map_of(result, scene.relief), "colours": colours(),
        "stages": [clean(stage.name) for stage in result.stages], "programs": programs(result),
        "heads": [head(h, scene.units) | {"when": when.get(h.about, [])} for h in scene.bodies.heads],
        "clamps": [{"outline": c.outline.tolist(), "top": c.top, "struck": c.struck, "stays": c.stays,
                    "when": when.get(c.about, [])} for c in scene.bodies.clamps],
        "openings": scene.bodies.openings.tolist(), "marks": marks(result), "zero": list(scene.zero),
        "ridges": ridges(scene),
        "path": None if replay else path(scene.path), "replay": replay, "charts": charts_of(result),
    }


def standing_when(result: Result) -> dict[str, list[tuple[int, int, int]]]:
    """Each body's times: (stage, first move, the move after the last) of every phase in which it stands."""
    when: dict[str, list[tuple[int, int, int]]] = {}
    for number, record in enumerate(result.records):
        ends = (*record.since[1:], len(record.reading.motion))
        for solids, first, stop in zip(record.solids, record.since, ends, strict=False):
            for about in dict.fromkeys(body.about for body in solids.tall):
                when.setdefault(about, []).append((number, first, stop))
    return when


def head(body: Head, units: Units) -> dict[str, Any]:
    """A head or washer, and its smallest gap in words."""
    told = body.clearance is not None and body.part == "head"
    return {"x": body.at[0], "y": body.at[1], "r": body.radius, "top": body.top, "struck": body.struck,
            "part": body.part, "text": units.text(round(body.clearance or 0.0, 2)) if told else ""}


def units_of(units: Units) -> dict[str, Any]:
    inch = units is Units.INCH
    return {"scale": MM_PER_INCH if inch else 1.0, "sign": units.sign(), "decimals": 4 if inch else 3,
            "far": 12 * MM_PER_INCH if inch else 1000.0}


def colours() -> dict[str, tuple[int, int, int]]:
    """The palette of every other picture."""
    names = ("AT_SIZE", "PLAIN", "LEFT_LOW", "LEFT_HIGH", "DEEP_LOW", "DEEP_HIGH", "HOLLOW", "SIDE", "STRUCK",
             "SCREW", "WASHER", "CLAMP", "CUTTER", "RIDGE", "LOW", "HIGH", "INK", "PAPER")
    return {name: getattr(paint, name) for name in names}


def programs(result: Result) -> list[dict[str, Any]]:
    """Each stage's program: its name, and its lines where they are not too many."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    sources = [record.reading.source for record in kept]
    short = sum(len(source.data) for source in sources) <= MOST_TEXT
    texts = [[clean(line[:200]) for line in source.lines] if short else [] for source in sources]
    texts += [[]] * (len(result.stages) - len(texts))
    return [{"name": clean(stage.program), "lines": lines}
            for stage, lines in zip(result.stages, texts, strict=True)]


def marks(result: Result) -> list[dict[str, Any]]:
    """Every finding with a place, by its number on the page."""
    stages = [stage.name for stage in result.stages]
    return [{"number": number, "at": list(found.at), "severity": found.severity.word, "line": found.line,
             "stage": stages.index(found.stage) if found.stage in stages else -1}
            for number, found in enumerate(result.findings, 1)
            if found.at is not None and np.isfinite(found.at).all()]


def ridges(scene: Scene) -> dict[str, Any] | None:
    """The pieces of the ridges: six numbers of place each, height and spacing, two lines, stage."""
    found = scene.ridges
    if not len(found.height):
        return None
    return {"ends": numbers(found.ends.astype("<f4")), "lines": numbers(found.lines.astype("<i4")),
            "sizes": numbers(np.column_stack((found.height, found.spacing)).astype("<f4")),
            "stage": numbers(found.stage.astype("<i4")), "highest": found.highest}


def path(way: Path) -> dict[str, Any] | None:
    """The tip's path and what of it is a rapid; None where it is too long to send."""
    if not 0 < len(way.kind) <= MOST_PIECES:
        return None
    return {"p": len(way.kind), "ends": numbers(way.ends.astype("<f4")),
            "rapid": numbers((way.kind == Move.RAPID).astype(np.uint8))}
