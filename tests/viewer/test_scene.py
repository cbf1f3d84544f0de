"""The scene holds what a view needs, and no more: layers as plain arrays in the board frame."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.job import Fastener
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.solids import Footprint, ObstacleSolid
from proveout.viewer.legend import swatches
from proveout.viewer.page.plan import plans_of
from proveout.viewer.plan_rows import plan_rows
from proveout.viewer.scene import Scene, scene_of
from proveout.viewer.tracks import polyline


def test_distance_from_the_wanted_face(result):
    """The fixture's face is wanted at -0.4; its map was written by hand: -4 in front, 0 at the back right."""
    relief = scene_of(result).relief
    assert relief.off[10, 50] == pytest.approx(-3.6, abs=1e-6)
    assert relief.off[70, 75] == pytest.approx(0.4, abs=1e-6)
    assert relief.off[70, 30] == pytest.approx(0.0, abs=1e-6)
    assert relief.missed[70, 75]
    assert not relief.missed[70, 30]
    assert relief.too_deep[10, 50]


def test_holes_and_recesses_are_no_fault_of_the_face(result):
    """The recess about (80, 60), 13 wide, and the hole drilled at (50, 40), 6.6 wide, are left out."""
    off = scene_of(result).relief.off
    assert np.isnan(off[60, 80])
    assert np.isnan(off[40, 50])
    assert not np.isnan(off[60, 90])


def test_no_face_wanted_means_no_distance(result):
    job = replace(result.job, stages=(replace(result.job.stages[0], face=()),))
    assert np.isnan(scene_of(replace(result, job=job)).relief.off).all()


def test_bodies_carry_their_smallest_gap_and_whether_they_are_struck(standing_result):
    bodies = scene_of(standing_result).bodies
    gaps = {head.about: head.clearance for head in bodies.heads}
    assert [gaps[f"edge screws {n}"] for n in (1, 2, 3, 4)] == [-1.1, 25.0, None, 17.6]
    assert {head.about for head in bodies.heads if head.struck} == {"edge screws 1"}
    clamp, = bodies.clamps
    assert (clamp.clearance, clamp.struck, clamp.stays) == (12.25, False, False)
    assert sorted(map(tuple, clamp.outline.tolist())) == [(40, -30), (40, 10), (60, -30), (60, 10)]
    assert bodies.openings.tolist() == [[20, 20, 2.5], [80, 20, 2.5]]


def test_an_obstacle_is_called_one(standing_result):
    """In the scene, the picture's key, the terminal's plan and the sheet."""
    record = standing_result.records[0]
    fence = ObstacleSolid("fence", Footprint((50, 70), (40, 4)), 5.0, -18.0)
    solids = tuple(replace(each, obstacles=(fence,)) for each in record.solids)
    made = replace(standing_result, records=(replace(record, solids=solids),))
    scene = scene_of(made)
    assert {body.about: body.fixed for body in scene.bodies.clamps} == {"fence": True, "front left": False}
    assert ("clamp (pale: off by the end), obstacle" in (words := [words for _, words in swatches(scene)])
            or "clamp, obstacle" in words)
    reasons = [(found, found.kind) for found in made.findings]
    assert "= obstacle" in " ".join(row.text for row in plan_rows(made, reasons))
    (sheet,) = plans_of(made, scene)
    assert [(body["about"], body["fixed"]) for body in sheet["clamps"]] == [
        ("front left", False), ("fence", True)]


def test_path_has_its_kinds_and_lines(result):
    path = scene_of(result).path
    assert path.line.tolist() == [5, 7, 8]
    assert path.kind.tolist() == [Move.RAPID, Move.FEED, Move.FEED]
    assert path.ends[2].tolist() == [[-26, 10, -4], [126, 10, -4]]


def test_a_finding_without_a_place_has_no_mark(result):
    marks = scene_of(result).marks
    assert [mark.kind for mark in marks] == ["head-strike", "deep-pass"]
    assert marks[0].at == (20, 10, -4)


def test_a_job_without_screws_or_records_is_drawn_too(result):
    bare = replace(result.job, fasteners=(), clamps=(), bed=None)
    scene = scene_of(replace(result, job=bare, records=()))
    assert not scene.bodies.heads
    assert len(scene.path.line) == 0
    assert isinstance(bare.fasteners, tuple)


def test_a_recess_that_a_stage_cuts_has_no_size_of_its_own(result):
    recess = replace(result.job.fasteners[0].recess, diameter=None, depth=None, cut_by="face")
    screws: Fastener = replace(result.job.fasteners[0], recess=recess)
    relief = scene_of(replace(result, job=replace(result.job, fasteners=(screws,)))).relief
    assert not np.isnan(relief.off[60, 80])


@given(sweep=st.floats(-12, 12).filter(lambda s: abs(s) > 0.01), turn=st.floats(-3, 3), rise=st.floats(-5, 5))
def test_an_arc_is_drawn_on_its_circle(sweep, turn, rise):
    """Every point lies 10 from the centre, and the ends are the arc's own."""
    build = MotionBuilder()
    ends = [(5 + 10 * np.cos(a), 7 + 10 * np.sin(a), z) for a, z in ((turn, 0.0), (turn + sweep, rise))]
    build.arc(1, *ends, plane=17, centre=(5, 7), sweep=sweep, feed=100)
    points = polyline(build.motion(), 0)
    assert np.allclose(np.hypot(points[:, 0] - 5, points[:, 1] - 7), 10)
    assert np.allclose(points[[0, -1]], ends)
    assert np.abs(np.diff(points[:, 2])).sum() == pytest.approx(abs(rise), abs=1e-9)


class Recorder:
    """A view that draws nothing and keeps what it was given: each layer's columns, by name."""

    def __init__(self, scene: Scene) -> None:
        self.columns: dict[str, object] = {}
        self.take("", scene)

    def take(self, name: str, value: object) -> None:
        if is_dataclass(value):
            for each in fields(value):
                self.take(f"{name}.{each.name}".lstrip("."), getattr(value, each.name))
        elif isinstance(value, tuple) and value and is_dataclass(value[0]):
            for each in value:
                self.take(name, each)
        else:
            self.columns.setdefault(name, value)


def test_every_layer_is_plain_arrays_and_words(standing_result):
    """What any view gets: arrays, numbers, words; no colour, no camera, nothing to call."""
    recorded = Recorder(scene_of(standing_result)).columns
    for name in ("relief.heights", "relief.off", "relief.tolerance", "bodies.heads.clearance",
                 "bodies.clamps.outline", "bodies.openings", "path.ends", "path.kind", "path.line",
                 "ridges.ends", "ridges.height", "ridges.spacing", "ridges.lines", "marks.at",
                 "marks.severity", "zero"):
        assert name in recorded, name
    plain = (np.ndarray, int, float, str, bool, type(None))
    for name, value in recorded.items():
        leaves = value if isinstance(value, tuple) else (value,)
        assert all(isinstance(leaf, plain) for leaf in leaves), name
        assert "colour" not in name


def test_the_layers_of_one_scene_fit_each_other(standing_result):
    """Missed and too deep are what the distances say; a path's columns are as long as its pieces."""
    scene = scene_of(standing_result)
    relief, path = scene.relief, scene.path
    known = ~np.isnan(relief.off)
    assert relief.heights.shape == relief.off.shape == (len(relief.y), len(relief.x))
    assert np.array_equal(relief.missed[known], relief.off[known] > relief.tolerance)
    assert not (relief.missed & relief.too_deep).any()
    assert len({len(column) for column in (path.ends, path.kind, path.line, path.stage, path.move)}) == 1
    motion = standing_result.records[0].reading.motion
    assert np.array_equal(path.line, motion.line[path.move])
