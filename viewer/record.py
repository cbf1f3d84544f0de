"""The result file: a Result as plain JSON, format 1.

The law: exactly the keys of the public format, everything in the job's unit, every number finite or
null. It computes nothing: it converts and names.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from .plain_text import escaped

if TYPE_CHECKING:
    from ..parser.finding import Finding
    from ..parser.job import Job
    from ..parser.units import Units
    from ..sim.knobs import Knobs
    from ..sim.result import Budget, Quieted, Result
    from ..sim.stage_figures import (
        ClearanceFigures,
        FaceFigures,
        FitFigures,
        HoldFigures,
        HoleFigures,
        SlackFigures,
        StageFigures,
        StopFigures,
        ZeroFigures,
    )
    from ..sim.work_figures import FeedFigures, Hardest, TimeFigures

FORMAT = 1
SIDES, DOUBTS = ("left", "right", "front", "back", "down", "up"), ("z_zero", "head_z", "head_xy")
DECIMALS = 9  # finer than any figure is right to; keeps 0.1 + 0.2 out of the file


def record(result: Result) -> dict[str, Any]:
    """The result as the public format has it: dicts, lists, strings, finite numbers and None."""
    from importlib.metadata import version  # slow to load, and not all that is shown is recorded

    units = result.job.units
    return {
        "format": FORMAT, "title": result.job.title, "verdict": result.verdict.value, "units": units.value,
        "inputs": [{"file": each.file, "sha256": each.sha256} for each in result.inputs],
        "findings": [finding_record(each, units) for each in result.findings],
        "stages": [stage_record(each, units) for each in result.stages],
        "budget": budget_record(result.budget, units),
        "unchecked": [{"what": each.what, "why": each.why} for each in result.unchecked],
        "version": version("proveout"),
        "quiet": [quiet_record(each) for each in result.quieted],
        "settings": settings_of(result.job, result.knobs),
    }


def settings_of(job: Job, knobs: Knobs) -> dict[str, Any]:
    """What a check was told besides its files: both knobs' ranges in percent, values that only the machine
    knows, and for a program with no job file its cutter and its number; null: not said."""
    alone = job.one_cutter
    diameter = job.cutters[0].diameter
    return {"override": None if knobs.feed is None else list(knobs.feed),
            "spindle_override": None if knobs.speed is None else list(knobs.speed),
            "set": {f"#{number}": value for number, value in sorted(job.known.items())},
            "steps": job.most_moves, "number": job.stages[0].number if alone else None,
            "cutter": f"{job.cutters[0].shape} {diameter:.9g}mm" if alone and diameter is not None else None}


def quiet_record(quiet: Quieted) -> dict[str, Any]:
    """What a stage's `quiet` silenced; `severity` of the worst, null where it silenced nothing."""
    return {"stage": quiet.stage, "kind": quiet.kind, "reason": quiet.reason, "count": quiet.count,
            "severity": None if quiet.severity is None else quiet.severity.word}


def finding_record(found: Finding, units: Units) -> dict[str, Any]:
    """One finding; `value` and `limit` in the unit that `unit` names."""
    return {
        "kind": found.kind, "severity": found.severity.word, "stage": found.stage, "program": found.program,
        "line": found.line, "lines": list(found.lines), "count": found.count,
        "at": _point(found.at, units), "shown": _point(found.shown, units),
        "value": _number(found.value, units, found.unit), "limit": _number(found.limit, units, found.unit),
        "unit": units.sign(found.unit), "about": found.about,
        "message": found.message(units), "advice": found.advice(units),
    }


def stage_record(stage: StageFigures, units: Units) -> dict[str, Any]:
    """One stage's figures; `face` is null where the stage wants none."""
    return {
        "name": stage.name, "seconds": _number(stage.seconds, units, "time"),
        "cut_length": _number(stage.cut_length, units), "rapid_length": _number(stage.rapid_length, units),
        "removed_volume": _number(stage.removed_volume, units, "volume"),
        "lowest_cut": _number(stage.lowest_cut, units),
        "extents": _extents(stage, units),
        "face": None if stage.face is None else _face(stage.face, units),
        "holes": [_hole(each, units) for each in stage.holes],
        "clearances": [_clearance(each, units) for each in stage.clearances],
        "holder": [{"part": each.part, **_clearance(each, units)} for each in stage.holder],
        "held": None if stage.held is None else _held(stage.held, units),
        "slack": None if stage.slack is None else _limits(stage.slack, SIDES, units),
        "bears": None if stage.slack is None else _limits(stage.slack, DOUBTS, units),
        "zeros": [_zero(each, units) for each in stage.zeros],
        "feeds": [_feeds(each, units) for each in stage.feeds],
        "time": None if stage.time is None else _time(stage.time, units),
        "stops": [_stop(each, units) for each in stage.stops],
        "fits": [_fit(each, units) for each in stage.fits],
        "hardest": {each.what: _hardest(each, units) for each in stage.hardest},
    }


def _held(held: HoldFigures, units: Units) -> dict[str, Any]:
    """The cut place farthest from all that holds the board, and a map: rows of distances from the front, each
    from the left, `step` apart from `start` on; null off the board."""
    grid = held.map
    rows = [[None if away is None else _number(round(away, 3), units) for away in row] for row in grid.away]
    return {"farthest": _number(held.farthest, units), "at": _point(held.at, units), "line": held.line,
            "span": _number(held.span, units),
            "map": {"start": _point((grid.x[0], grid.y[0]), units), "step": _number(grid.step, units),
                    "rows": rows}}


def budget_record(budget: Budget, units: Units) -> dict[str, Any]:
    limits = [{"about": each.about, "left": _number(each.left, units), "facings": each.facings}
              for each in budget.limits]
    heads = [{"screw": each.screw, "lower": _number(each.lower, units),
              "diameter": _number(each.diameter, units), "facings": each.facings} for each in budget.heads]
    deeper = budget.deeper
    return {"cover_over_heads": _number(budget.cover_over_heads, units),
            "facings_left": budget.facings_left, "limited_by": budget.limited_by,
            "depth": _number(budget.depth, units), "limits": limits,
            "deeper": None if deeper is None else {
                "about": deeper.about, "by": _number(deeper.by, units), "facings": deeper.facings,
                "then": deeper.then},
            "heads": heads, "clean": _number(budget.clean, units)}


def _extents(stage: StageFigures, units: Units) -> dict[str, Any] | None:
    if stage.extents is None:
        return None
    return {axis: _point(reach, units) for axis, reach in zip("xyz", stage.extents, strict=True)}


def _face(face: FaceFigures, units: Units) -> dict[str, Any]:
    areas = {name: _number(getattr(face, name), units, "area")
             for name in ("area", "missed_area", "over_area")}
    heights = {name: _number(getattr(face, name), units)
               for name in ("highest", "lowest", "ridge_height", "flatness")}
    levels = [{"z": _number(level.z, units), "area": _number(level.area, units, "area")}
              for level in face.levels]
    return areas | heights | {"band_95": _number(face.band, units), "ridge": _ridge(face, units),
                              "levels": levels, "histogram": _histogram(face, units)}


def _ridge(face: FaceFigures, units: Units) -> dict[str, Any] | None:
    """The highest ridge: which way it runs (degrees from X; null along a bend) and the lines that left it."""
    ridge = face.ridge
    return ridge and {"height": _number(ridge.height, units), "spacing": _number(ridge.spacing, units),
                      "direction": _number(ridge.direction, units, "angle"), "lines": list(ridge.lines)}


def _histogram(face: FaceFigures, units: Units) -> dict[str, Any] | None:
    """Areas by height, from `lowest` up in bars of `step`."""
    bars = face.histogram
    return bars and {"lowest": _number(bars.lowest, units), "step": _number(bars.step, units),
                     "areas": [_number(area, units, "area") for area in bars.areas]}


def _hole(hole: HoleFigures, units: Units) -> dict[str, Any]:
    return {"at": _point(hole.at, units), "wanted": _point(hole.wanted, units),
            "diameter": _number(hole.diameter, units), "bottom": _number(hole.bottom, units),
            "through": bool(hole.through), "error": _number(hole.error, units),
            "ring": _number(hole.ring, units)}


def _fit(fit: FitFigures, units: Units) -> dict[str, Any]:
    """A pattern of holes against another: the angle in degrees, the scale a plain number."""
    return {"against": fit.against, "count": fit.count, "shift": _point(fit.shift, units),
            "angle": _number(fit.angle, units, "angle"), "scale": round(fit.scale, DECIMALS),
            "error": _number(fit.error, units), "back": _point(fit.back, units),
            "left": _number(fit.left, units), "rest": _number(fit.rest, units)}


def _stop(stop: StopFigures, units: Units) -> dict[str, Any]:
    """A stop: what is to be moved, what is free to be, where tip and nut stand (null: not known)."""
    names = {name: list(getattr(stop, name)) for name in ("remove", "add", "fit", "unfit", "clamps", "in_way",
                                                          "free")}
    return {"line": stop.line, "code": stop.code, **names, "cutter": stop.cutter,
            "tip": _point(stop.tip, units), "nose": _number(stop.nose, units), "turning": stop.turning}


def _clearance(gap: ClearanceFigures, units: Units) -> dict[str, Any]:
    return {"about": gap.about, "clearance": _number(gap.clearance, units), "line": int(gap.line)}


EFFORT = {"volume": "volume", "contact": "angle", "entry": "angle", "rate": "volume", "power": "power"}


def _hardest(most: Hardest, units: Units) -> dict[str, Any]:
    """The move that asked most of cutter or spindle in one respect; volumes of `rate` are a minute's."""
    return {"value": _number(most.value, units, EFFORT.get(most.what, "length")), "line": int(most.line),
            "at": _point(most.at, units)}


FEEDS = {  # of FeedFigures: its dimension
    "speed": "speed", "surface_speed": "", "depth": "length", "step": "length", "step_percent": "percent",
    "ramp": "angle", "removal": "volume", "power": "power", "rubbing": "time", "slowing": "time",
    "longest_slow": "time", "thinned": "length", "sliver": "length", "speed_override": "percent"}
RANGES = {"feeds": "feed", "chip": "length", "window": "length", "down": "feed", "feed_override": "percent"}


def _feeds(feeds: FeedFigures, units: Units) -> dict[str, Any]:
    """A cutter's work: lengths and volumes a minute in the job's unit, the rim's speed in m/s."""
    numbers = {name: _number(getattr(feeds, name), units, dimension) for name, dimension in FEEDS.items()}
    ranges = {name: _point(getattr(feeds, name), units, dimension) for name, dimension in RANGES.items()}
    knob = [{"percent": each.percent, "chip": _point(each.chip, units), "seconds": _number(
        each.seconds, units, "time"), "power": _number(each.power, units, "power"), "leaves": each.leaves}
        for each in feeds.overrides]
    speeds = [{"percent": each.percent, "speed": _number(each.speed, units, "speed"),
               "rim": _number(each.rim, units, ""), "chip": _point(each.chip, units),
               "leaves": each.leaves} for each in feeds.speeds]
    return {"cutter": feeds.cutter, **ranges, **numbers, "overrides": knob, "speeds": speeds}


def _time(time: TimeFigures, units: Units) -> dict[str, Any]:
    """Where the stage's seconds go: they add up to its `seconds`, in which no waiting counts."""
    spent = {name: _number(getattr(time, name), units, "time")
             for name in ("in_passes", "other_feeds", "rapids", "dwells")}
    passes = [{"line": each.line, "lines": [each.line, each.last_line], "from": _point(each.start, units),
               "to": _point(each.end, units), "length": _number(each.length, units),
               "seconds": _number(each.seconds, units, "time")} for each in time.passes]
    waits = [{"line": each.line, "code": each.code, "cutter": each.cutter,
              "after": _number(each.after, units, "time")} for each in time.waits]
    return {"accelerated": time.accelerated, **spent, "passes": passes, "waits": waits}


def _limits(slack: SlackFigures, names: Iterable[str], units: Units) -> dict[str, Any]:
    """How far, and what ends it; null where nothing does within reach."""
    limits = {name: getattr(slack, name) for name in names}
    return {name: {"amount": _number(limit.amount, units) if limit.by else None, "by": limit.by or None}
            for name, limit in limits.items()}


def _zero(zero: ZeroFigures, units: Units) -> dict[str, Any]:
    return {"on": zero.name, "z": _number(zero.z, units), "chosen": zero.chosen,
            "depth": _number(zero.depth, units), "meets": zero.meets or None,
            "overlap": _number(zero.overlap, units) if zero.meets else None,
            "rapid": _number(zero.rapid, units)}


def _number(value: float | None, units: Units, dimension: str = "length") -> float | None:
    """The number in the job's unit; what is missing, infinite or no number is null."""
    if value is None or not math.isfinite(value):
        return None
    return round(units.number(float(value), dimension), DECIMALS) + 0.0


def _point(values: Iterable[float] | None, units: Units, dimension: str = "length"
           ) -> list[float | None] | None:
    return None if values is None else [_number(value, units, dimension) for value in values]


def as_json(data: dict[str, Any]) -> str:
    """The text of a result file. Raises ValueError for a number that is not finite."""
    return escaped(json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)) + "\n"
