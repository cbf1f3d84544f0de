"""What a job says that no check uses yet, and what was taken for it where it says nothing.

The law: nothing is taken or left out in silence. Both lists end among the things not checked, each by the
key that would change it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ..parser.job import Fastener, Holes, Job
from ..parser.mistakes import shown
from ..parser.reading import Unchecked
from ..parser.toml_places import Path

# key paths of the job file ("*": every element) that are read but not, or not wholly, used; what is not done
NOT_SERVED: dict[str, str] = {}


def unserved(job: Job) -> tuple[Unchecked, ...]:
    """Each key that the job gives and that is not served yet, by its path."""
    return tuple(Unchecked(name, why) for pattern, why in NOT_SERVED.items() for name in given(job, pattern))


def given(job: Job, pattern: str) -> Iterator[str]:
    """The paths at a pattern that the job file really has, as a person reads them."""
    like = re.compile(re.escape(pattern).replace(r"\*", r"\d+") + r"\Z")
    for dotted in sorted(filter(like.match, job.given), key=_natural):
        yield shown(_path(dotted))


def _path(dotted: str) -> Path:
    return tuple(int(part) if part.isdigit() else part for part in dotted.split("."))


def _natural(dotted: str) -> list[tuple[bool, Any]]:
    return [(isinstance(part, str), part) for part in _path(dotted)]


def assumed(job: Job) -> tuple[Unchecked, ...]:
    """Each default that stands for something a person should have said."""
    return tuple(Unchecked(what, why) for what, why in (
        *_board(job), *_machine(job), *_cutters(job), *_screws(job), *_stages(job)))


Said = Iterator[tuple[str, str]]


def _board(job: Job) -> Said:
    board = job.board
    if job.one_cutter:
        yield "board", "there is no job file: the board is what the program sweeps below Z0, its top at Z0"
        yield "face and rapids at the board's border", "where the board ends is not given"
    elif "board.top" not in job.given and board.survey is None and board.surface is None:
        yield "board.top", "not given: taken as Z 0"
    bed = job.bed.top if job.bed else None
    if board.thickness is None:
        yield "board.thickness", "not given: whether holes go through, and what is left under them"
    if bed is None and board.thickness is None:
        yield "bed.top", "neither it nor board.thickness is given: the bed is unknown"
    elif bed is None and board.survey is None and board.surface is None:
        yield "bed.top", "not given: taken as the board's underside"


def _machine(job: Job) -> Said:
    machine = job.machine
    if machine.dialect is None:
        yield "machine.dialect", "not given: where families of controls differ, every reading was looked at"
    if machine.origin is None or machine.travel is None:
        missing = [f"machine.{k}" for k in ("origin", "travel") if getattr(machine, k) is None]
        yield "travel", f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not given"
    if machine.tram is None and any(stage.face for stage in job.stages):
        yield "tram", "machine.tram is not given: the spindle is taken as square to the bed"
    if machine.origin is not None and any(map(_goes_home, job.sources.values())):
        yield "G28 and G30", "the stored positions are not known: taken as machine zero"


def _goes_home(source: Any) -> bool:
    return re.search(rb"(?i)G\s*0*(28|30)(?![\d.])", source.data) is not None


def _cutters(job: Job) -> Said:
    for number, cutter in enumerate(job.cutters):
        path = ("cutters", number)
        if cutter.shape == "drill" and cutter.angle is None:
            yield shown((*path, "angle")), "not given: the drill's point is taken as 118°"
        if cutter.shape == "facing" and cutter.core is None:
            yield shown((*path, "core")), "not given: taken to cut over its whole width"
        if cutter.shape == "cone" and cutter.tip is None:
            yield shown((*path, "tip")), "not given: the point is taken as sharp"
    if job.machine.nose is None or any(cutter.stickout is None for cutter in job.cutters):
        yield "holder", "machine.nose or a cutter's stickout is not given"


def _screws(job: Job) -> Said:
    if not job.fasteners:
        yield "screws", "the job describes none"
    if not job.clamps:
        yield "clamps", "the job describes none"
    for number, screws in enumerate(job.fasteners):
        if screws.seat is None and screws.sunk is None:
            yield shown(("fasteners", number, "seat")), _seat(screws)


def _seat(screws: Fastener) -> str:
    return f"not given: {screws.name} are taken to rest on the board as it is when they are fitted"


def _stages(job: Job) -> Said:
    if not any(f"stages.{n}.zero" in job.given for n in range(len(job.stages))):
        yield "zero", "not given: taken as X0 Y0 Z0 of the board"
    for number, stage in enumerate(job.stages):
        for place, holes in enumerate(stage.holes):
            many = (place,) if len(stage.holes) > 1 else ()
            yield from _holes(holes, ("stages", number, "holes", *many))


def _holes(holes: Holes, path: Path) -> Said:
    if not holes.through and holes.depth is None:
        yield shown((*path, "depth")), "neither it nor through is given: how deep they go is not checked"
    if holes.diameter is None:
        yield shown((*path, "diameter")), "not given: the size of these holes is not checked"
