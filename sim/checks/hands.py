"""Hands near the cutter: what the operator moves at a stop, spindle off and the cutter out of the way.

The law: the spindle counts as off only where the program says so before the stop. Distances are from the
cutter and the nose, as they stand then, to the nearest place of what is moved. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot, inf, isnan

import shapely

from ...parser.finding import Finding, Phrase, Severity, finding
from ...parser.job import Change, Cutter
from ...parser.motion import Event, Happening, Spindle
from ...parser.reading import Unchecked
from ..cutters import profile_of
from ..evidence import Check, Evidence, Said
from ..feeds import by_hand
from ..setup import changes_in_order, top_under
from ..solids import ClampSolid, HeadSolid, bed_top_of, clamps_of

APART = 100.0  # mm between cutter or nose and what is moved: common practice, no published source

Body = ClampSolid | HeadSolid


@dataclass(frozen=True)
class Act:
    """What is moved at one stop: its name, what is done with it, and its bodies (a cutter has none)."""

    name: str
    done: str
    bodies: tuple[Body, ...] = ()


def stop_hands(evidence: Evidence) -> Iterator[Said]:
    """Every stop at which the job moves something."""
    changes = changes_in_order(evidence.job, evidence.stage, evidence.reading, must_reach=False)
    for row, _, change in changes:
        event, done = event_of(evidence, row, change), acts(evidence, change)
        if event is None or not done:
            continue
        turning = spindle_at(evidence, event)
        if by_hand(evidence):
            yield Unchecked("spindle off at stops", "it is switched by hand")
        elif turning is not Spindle.STILL:
            yield on(evidence, event, done[0], row)
        yield from near(evidence, event, done, row)


def event_of(evidence: Evidence, row: int, change: Change) -> Event | None:
    """When a change happens, as the program runs."""
    done = [e for e in evidence.motion.events if e.kind is Happening.OPERATOR and e.before == row]
    if change.at_stop is not None:
        return next((e for e in done if e.code == "at_stop" and e.value == change.at_stop), None)
    return next((e for e in done if e.code == "at_line"), None)


def acts(evidence: Evidence, change: Change) -> list[Act]:
    """What the operator moves."""
    things = [*((name, "taken off", clamp_bodies(evidence, name)) for name in change.remove),
              *((name, "put on", clamp_bodies(evidence, name)) for name in change.add),
              *((name, "taken out", heads_of_group(evidence, name)) for name in change.unfit),
              *((name, "fitted", heads_of_group(evidence, name)) for name in change.fit)]
    found = [Act(name, done, bodies) for name, done, bodies in things]
    return found if change.cutter is None else [*found, Act("the cutter", "changed")]


def clamp_bodies(evidence: Evidence, name: str) -> tuple[Body, ...]:
    job = evidence.job
    return tuple(body for clamp in job.clamps if clamp.name == name
                 for body in clamps_of(clamp, bed_top_of(job), top_under(job, clamp)))


def heads_of_group(evidence: Evidence, name: str) -> tuple[Body, ...]:
    heads = [head for phase in evidence.phases for head in phase.solids.heads if head.group == name]
    return tuple(dict.fromkeys(heads))


def spindle_at(evidence: Evidence, event: Event) -> Spindle:
    """Whether the spindle turns when an event comes; a cutter change stops it."""
    turning = Spindle.STILL
    for each in evidence.motion.events:
        if each is event:
            break
        if each.kind is Happening.SPINDLE:
            turning = Spindle(int(each.value))
        elif each.kind is Happening.CUTTER and each.code == "M6":
            turning = Spindle.STILL
    return turning


def on(evidence: Evidence, event: Event, act: Act, row: int) -> Finding:
    what, fix = "The spindle turns while {name} is {done}", "Put M5 and a dwell (G4) before line {line}"
    about = f"spindle at line {event.line}"
    return finding("stop-hands", line=event.line, about=about, **place(evidence, row),
                   what=Phrase(what, {"name": act.name, "done": act.done}),
                   fix=Phrase(fix, {"line": event.line}))


def place(evidence: Evidence, row: int) -> dict:
    """Where the tip stands at a stop before move `row`."""
    motion = evidence.motion
    if not len(motion):
        return {}
    at = motion.end[row - 1] if row else motion.start[0]
    return {"at": at, "shown": motion.shown(max(0, row - 1), at.tolist())}


def near(evidence: Evidence, event: Event, done: Sequence[Act], row: int) -> Iterator[Said]:
    """What stands too near to hands, or too low."""
    where = place(evidence, row)
    tip = tuple(float(v) for v in where["at"]) if where else (inf, inf, inf)
    if any(map(isnan, tip)):
        yield Unchecked("cutter and hands at stops", f"where it stands at line {event.line} is not known")
        return
    cutter = evidence.cutters[max(0, row - 1)] if len(evidence.cutters) else None
    for act in done:
        gaps = [(gap(evidence, cutter, tip, body), body) for body in act.bodies]
        distance, body = min(gaps, key=lambda each: each[0], default=(inf, None))
        top = max(body.top if body else -inf, *(piece.top for piece in evidence.lying))
        if body is not None and (distance < APART or tip[2] < top):
            yield finding("stop-hands", severity=Severity.CAUTION, line=event.line, about=act.name, **where,
                          value=distance, limit=APART, what=standing(act, distance, tip[2] < top),
                          fix=Phrase("Before line {line}, go up and {away:length} or more away from it",
                                     {"line": event.line, "away": APART}))


def standing(act: Act, distance: float, low: bool) -> Phrase:
    how = "lower than its top or the board's, " if low else ""
    return Phrase("The cutter stands " + how + "{distance:length} from {name} while it is {done}",
                  {"distance": distance, "name": act.name, "done": act.done})


def gap(evidence: Evidence, cutter: Cutter | None, tip: tuple[float, ...], body: Body) -> float:
    """The least distance from the cutter, or from the nose over it, to a body."""
    aside = float(shapely.distance(body.footprint.shape, shapely.Point(tip[:2])))
    return min(hypot(max(0.0, aside - radius), max(0.0, tip[2] + height - body.top))
               for radius, height in turning_parts(evidence, cutter))


def turning_parts(evidence: Evidence, cutter: Cutter | None) -> Iterator[tuple[float, float]]:
    """(radius, height over the tip) of the cutter and of the parts of the nose, as far as they are known."""
    yield (profile_of(cutter).radius if cutter else 0.0), 0.0
    height = cutter.stickout if cutter else None
    for part in evidence.job.machine.nose or () if height is not None else ():
        yield part.diameter / 2, height or 0.0
        height = (height or 0.0) + part.length


CHECKS: tuple[Check, ...] = (stop_hands,)
