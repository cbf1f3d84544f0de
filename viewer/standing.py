"""How the machine must stand for a stage, and what its screws are called by a person beside it.

The law: everything here is read off the job and the program's own events; nothing is computed that a
verdict rests on. A screw has its number and its place: rows count from the operator, places from the left.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..parser.finding import place
from ..parser.job import Change, Fastener, Job, Stage
from ..parser.motion import Event, Happening
from ..parser.reading import Reading
from ..parser.units import Units
from ..sim.solids import spots as places_of

SAME_ROW = 5.0  # mm: screws nearer than this in Y stand in one row


@dataclass(frozen=True, slots=True)
class Standing:
    """Names of the screw groups that are in and of the clamps that are on."""

    fitted: tuple[str, ...]
    clamps: tuple[str, ...]

    def after(self, change: Change) -> Standing:
        return Standing(_changed(self.fitted, change.fit, change.unfit),
                        _changed(self.clamps, change.add, change.remove))


def _changed(names: tuple[str, ...], more: Iterable[str], less: Iterable[str]) -> tuple[str, ...]:
    gone = set(less)
    return tuple(dict.fromkeys([name for name in names if name not in gone] + list(more)))


def standing(job: Job, name: str) -> Standing:
    """What must be in and on when stage `name` starts; a stage that says "as left" takes over."""
    now = Standing((), ())
    for stage in job.stages:
        now = Standing(_named(stage.fitted, [f.name for f in job.fasteners], now.fitted),
                       _named(stage.clamps, dict.fromkeys(c.name for c in job.clamps), now.clamps))
        if stage.name == name:
            break
        for change in stage.changes:
            now = now.after(change)
    return now


def _named(wanted: tuple[str, ...] | str | None, every: Iterable[str],
           left: tuple[str, ...]) -> tuple[str, ...]:
    if wanted is None:
        return tuple(every)
    return left if isinstance(wanted, str) else wanted


def spots(fastener: Fastener) -> list[tuple[float, float]]:
    """The places of a group's screws in their numbered order, mm, board frame."""
    return [at for at, _ in places_of(fastener.at, fastener.grid)]


def screw_place(job: Job, about: str) -> str:
    """ "row 2, place 3" for a screw that is called `about` ("edge screws 8"), "" for anything else."""
    group, _, number = about.rpartition(" ")
    fastener = next((f for f in job.fasteners if f.name == group), None)
    if fastener is None or not number.isdecimal() or not 1 <= int(number) <= len(spots(fastener)):
        return ""
    rows = _rows(spots(fastener))
    at = spots(fastener)[int(number) - 1]
    row = next(i for i, places in enumerate(rows) if at in places)
    return f"row {row + 1}, place {rows[row].index(at) + 1}"


def _rows(places: Sequence[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    """The places in rows from the front, each from the left."""
    rows: list[list[tuple[float, float]]] = []
    for at in sorted(places, key=lambda p: p[1]):
        if rows and at[1] - rows[-1][0][1] <= SAME_ROW:
            rows[-1].append(at)
        else:
            rows.append([at])
    return [sorted(row) for row in rows]


def zero_words(job: Job, stage: Stage) -> str:
    """Where the zero is set: by the corner's and the surface's names where it is one of them."""
    x, y, z = stage.zero
    corners = {(at_x, at_y): f"{side_y} {side_x} corner"
               for at_x, side_x in _sides(job.board.x, "left", "right")
               for at_y, side_y in _sides(job.board.y, "front", "back")}
    level = {job.board.top: "board's top", _bed_top(job): "bed"}.get(z, "")
    if (x, y) in corners and level:
        return f"on the {corners[x, y]}, Z on the {level}"
    return f"at {place(stage.zero, job.units)} of the board" + (f", Z on the {level}" if level else "")


def touch_words(job: Job, stage: Stage) -> str:
    """What each cutter is touched off on, and where."""
    said = []
    for touch in stage.touch:
        cutter = job.cutter(touch.cutter)
        where = "" if touch.at is None else f" at {place(touch.at, job.units)}"
        block = f", a block of {job.units.text(touch.block)} under it" if touch.block else ""
        said.append(f"{cutter.label if cutter else 'the cutter'} on the {touch.on}{where}{block}")
    return "; ".join(said)


def _sides(reach: tuple[float, float] | None, low: str, high: str) -> list[tuple[float, str]]:
    return [] if reach is None else [(reach[0], low), (reach[1], high)]


def _bed_top(job: Job) -> float | None:
    if job.bed is not None and job.bed.top is not None:
        return job.bed.top
    return None if job.board.thickness is None else job.board.top - job.board.thickness


def stops(stage: Stage, reading: Reading | None, units: Units) -> Iterator[str]:
    """Each stop or change of cutter, with its line and what the operator does there, in program order."""
    if reading is not None:
        for event, words in stop_words(stage, reading, units):
            yield f"line {event.line} {words}"
    for change in stage.changes:
        if change.at_line is not None:
            yield f"before line {change.at_line}: {_acts(change, units)}"
        elif change.at_stop is not None and reading is None:
            yield f"stop {change.at_stop}: {_acts(change, units)}"


def stop_words(stage: Stage, reading: Reading, units: Units) -> Iterator[tuple[Event, str]]:
    """Each stop that the program makes, and what the operator does there."""
    counted = 0
    for event in reading.motion.events:
        if _is_stop(event, stage):
            counted += 1
            acts = [_acts(c, units) for c in stage.changes if c.at_stop == counted]
            yield event, f"{event.code or 'stop'}: " + ("; ".join(acts) or "nothing to move")


def _is_stop(event: Event, stage: Stage) -> bool:
    return event.kind == Happening.STOP or (event.kind == Happening.OPTIONAL_STOP and stage.optional_stop)


def _acts(change: Change, units: Units) -> str:
    acts = [("take off clamp", change.remove), ("put on clamp", change.add),
            ("drive in", change.fit), ("take out", change.unfit)]
    said = [f"{verb} {', '.join(names)}" for verb, names in acts if names]
    if change.cutter is not None:
        said.append(f"change to cutter {change.cutter}")
    if change.zero is not None:
        said.append(f"set zero at {place(change.zero, units)} of the board")
    if change.touch is not None:
        said.append(f"touch Z off on the {change.touch.on}")
    return ", ".join(said)
