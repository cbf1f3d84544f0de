"""Screws as they are fitted: whether they hold, whether their heads fit, whether they sit where the job says.

The law: a group is judged in the stage that first has it on the machine, in the board as it is when it is
fitted. Sizes are the largest that the standard allows. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from ...parser.finding import Finding, Phrase, Severity, finding
from ...parser.job import Fastener, Job, Stage
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Said
from ..plan import disc, joined
from ..seating import MEASURED_WITHIN, cells_between, faced_height, head_size
from ..solids import BedSolid, HeadSolid, OpeningSolid, bed_of
from ..whatif import least_under
from .holes import shown_of

BOTTOMS = 0.5  # mm that a screw's end keeps from the bottom of a blind opening; common practice
RIM = 10.0  # mm about a recess that tell how high the board is
SMALLER = 0.5  # mm that a head may be lower than the table's largest: common practice, no published source
SEAT = 0.2  # mm that a typed seat may be off
EXACT = 1e-4  # mm: heights are right to this


def heads(evidence: Evidence) -> Iterator[tuple[Fastener, HeadSolid, HeadSolid | None, int]]:
    """(group, head, its washer, the move before which it was fitted) of the screws that are new here."""
    for fastener in evidence.job.fasteners:
        if not earlier(evidence.job, evidence.stage, fastener.name):
            for phase in evidence.phases:
                new = [head.nominal for head in phase.solids.heads if head.group == fastener.name]
                washers = {head.about: head for head in new if head.part == "washer"}
                yield from ((fastener, head, washers.get(head.about), phase.first)
                            for head in new if head.part == "head")
                if new:
                    break


def place_of(evidence: Evidence, head: HeadSolid, z: float) -> dict[str, Any]:
    """Where a finding about a screw stands; no line of the program is to blame."""
    at = (*head.at, z)
    return {"at": at, "shown": shown_of(evidence, at), "about": head.about}


def earlier(job: Job, stage: Stage, name: str) -> bool:
    """Whether a stage before this one has a group on the machine."""
    before = job.stages[:job.stages.index(stage)]
    part = next(group.part for group in job.fasteners if group.name == name)
    return any(each.fitted is None or name in each.fitted or any(name in c.fit for c in each.changes)
               for each in before if part is None or each.parts is None or part in each.parts)


# --- length -------------------------------------------------------------------------------------------

def screw_length(evidence: Evidence) -> Iterator[Said]:
    """Screws that reach the bottom of their opening in the bed, or hold in too little of its thread."""
    bed = bed_of(evidence.job)
    if bed is None or not bed.openings:
        if any(fastener.length for fastener in evidence.job.fasteners):
            yield Unchecked("length of the screws", "bed.openings are not given")
        return
    for fastener, head, _, _ in heads(evidence):
        opening, thread = opening_under(bed, head), head_size(fastener).thread
        if fastener.length is None or thread is None:
            missing = "its length is not given" if fastener.length is None else "its thread is not known"
            yield Unchecked(f"length of {fastener.name}", missing)
        elif opening is None or 2 * opening.radius >= thread:
            yield Unchecked(f"length of {head.about}", "no tapped hole of the bed lies under it")
        else:
            yield from held(evidence, head, end_of(fastener, head), (bed.top, opening), thread)


def opening_under(bed: BedSolid, head: HeadSolid) -> OpeningSolid | None:
    """The round opening that a screw goes into."""
    return next((o for o in bed.openings if o.radius and np.hypot(
        o.at[0] - head.at[0], o.at[1] - head.at[1]) <= o.radius), None)


def end_of(fastener: Fastener, head: HeadSolid) -> float:
    """Z of a screw's end: its length counts under the head, of countersunk ones with the head."""
    under = head.top if head_size(fastener).countersunk else head.bottom
    return under - (fastener.length or 0.0)


def held(evidence: Evidence, head: HeadSolid, end: float, bed: tuple[float, OpeningSolid], thread: float
         ) -> Iterator[Finding]:
    """What is wrong with a screw whose end is at `end`; the thread begins under the opening's chamfer."""
    top, opening = bed
    floor, begins, place = top - opening.depth, top - opening.chamfer, place_of(evidence, head, head.top)
    if end < floor + BOTTOMS - EXACT:
        what = "reaches the bottom of its hole in the bed (Z {floor:length}) before it pulls the board down"
        yield finding("screw-length", severity=Severity.STOP, value=end - floor, limit=BOTTOMS, **place,
                      what=Phrase(what, {"floor": floor}), change="shorter", by=floor + BOTTOMS - end)
    engaged = max(0.0, begins - max(end, floor))
    if engaged < thread - EXACT:
        what = "holds in {engaged:length} of the bed's thread; one diameter, {thread:length}, is the least"
        numbers = {"engaged": engaged, "thread": thread}
        yield finding("screw-length", value=engaged, limit=thread, **place, what=Phrase(what, numbers),
                      change="longer", by=thread - engaged)


# --- head and seat ------------------------------------------------------------------------------------

def head_fit(evidence: Evidence) -> Iterator[Said]:
    """Heads and washers that are wider than the recess they have to go into."""
    for fastener, head, washer, row in heads(evidence):
        if fastener.recess is None:
            continue
        room = recess_about(evidence, fastener, head, row)
        if np.isinf(room):
            yield Unchecked(f"whether {fastener.name} fit their recess", "it is not cut as a hole is")
        for solid in (head, *([washer] if washer else [])):
            if solid.radius > room + EXACT:
                yield finding("head-fit", **place_of(evidence, head, head.bottom), value=2 * solid.radius,
                              limit=2 * room, part=solid.part, **WIDE)
        if np.isfinite(room) and not head_size(fastener).countersunk:
            yield from too_shallow(evidence, (head, washer), room, row)


WIDE: dict[str, Any] = {"measure": "wide", "sits": "sits on the rim, too high", "larger": "wider",
                        "smaller": "narrower"}
HIGH: dict[str, Any] = {"measure": "high", "sits": "stands out of the board", "larger": "deeper",
                        "smaller": "lower"}


def too_shallow(evidence: Evidence, pair: tuple[HeadSolid, HeadSolid | None], room: float, row: int
                ) -> Iterator[Finding]:
    """A head that stands out of the recess that it was to lie in, over the board about it."""
    head, washer = pair
    board = evidence.board_then(row, shapely.Point(head.at).buffer(room + RIM))
    about = cells_between(board, head.at, room + 2 * board.cell, room + RIM)
    floor = (washer or head).bottom
    if len(about) and head.top > float(np.median(about)) + EXACT:
        yield finding("head-fit", severity=Severity.CAUTION, **place_of(evidence, head, head.top),
                      value=head.top - floor, limit=max(0.0, float(np.median(about)) - floor),
                      part="head on its washer" if washer else "head", **HIGH)


def recess_about(evidence: Evidence, fastener: Fastener, head: HeadSolid, row: int) -> float:
    """The radius that is free about a screw's axis: of its recess as given, or as it is really drilled."""
    if fastener.recess is not None and fastener.recess.diameter is not None:
        return fastener.recess.diameter / 2
    mine = [disc(hole.at, hole.diameter / 2) for hole in evidence.found if hole.moves[-1] < row]
    axis = shapely.Point(head.at)
    parts = shapely.get_parts(joined([evidence.drilled, *mine]))
    here = parts[shapely.covers(parts, axis)]
    return float(shapely.distance(here[0].boundary, axis)) if len(here) else np.inf


def seat_thin(evidence: Evidence) -> Iterator[Finding]:
    """Too little board under a seat to hold the head: one finding for all screws of a group."""
    for fastener, head, washer, _ in heads(evidence):
        piece = evidence.piece_at(head.at)
        if piece.underside is None or head_size(fastener).countersunk:
            continue
        under, least = (washer or head).bottom - piece.underside, least_under(piece.thickness or 0.0)
        if under < least - EXACT:
            where = {**place_of(evidence, head, (washer or head).bottom), "about": fastener.name}
            yield finding("seat-thin", **where, value=under, limit=least, higher=least - under)


def seat_mismatch(evidence: Evidence) -> Iterator[Finding]:
    """Typed seats that are off the floor which is really there."""
    for fastener, head, washer, row in heads(evidence):
        size = head_size(fastener)
        if not isinstance(fastener.seat, int | float) or size.countersunk:
            continue
        bearing = max(head.radius, washer.radius if washer else 0.0)
        board = evidence.board_then(row, shapely.Point(head.at).buffer(2 * bearing))
        under = cells_between(board, head.at, (size.thread or 0.0) / 2, bearing)
        floor = float(under.max()) if len(under) else fastener.seat
        if abs(floor - fastener.seat) > SEAT + EXACT:
            yield finding("seat-mismatch", **place_of(evidence, head, floor), value=float(fastener.seat),
                          limit=floor, off=abs(floor - fastener.seat),
                          side="higher" if floor > fastener.seat else "lower")


def measure_doubt(evidence: Evidence) -> Iterator[Finding]:
    """Heads that were measured lower than their seat and the table let them be; the higher counts."""
    for fastener, head, washer, row in heads(evidence):
        for reading in fastener.measured:
            if np.hypot(reading.at[0] - head.at[0], reading.at[1] - head.at[1]) > MEASURED_WITHIN:
                continue
            board = evidence.board_then(row, shapely.Point(head.at).buffer(head.radius + 3 * RIM))
            face = faced_height(board, head.at, fastener.recess, head.radius, head.about)
            off = head.top - (face - reading.sunk)
            if off > SMALLER + EXACT:
                seat = head.top if head_size(fastener).countersunk else (washer or head).bottom
                yield finding("measure-doubt", **place_of(evidence, head, head.top), value=reading.sunk,
                              limit=face - head.top, off=off, seat=seat - off)


CHECKS: tuple[Check, ...] = (screw_length, head_fit, seat_thin, seat_mismatch, measure_doubt)
