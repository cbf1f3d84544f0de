"""A board in parts: slats, halves of different stuff and height, one half off or swapped for a pallet.

Oracles: areas by shapely, heights and volumes worked by hand, and the same job with one whole board.
"""

from __future__ import annotations

import numpy as np
import pytest
from proveout.parser.finding import Severity
from proveout.parser.job import Board, Cutter, Job, Part, Repeat, Stage
from proveout.parser.mistakes import JobError
from proveout.sim.board import board_outline
from proveout.sim.parts import lying, pieces_of

HALVES = '''parts = [
  { name = "front", x = [0, 200], y = [0, 50] },
  { name = "back", x = [0, 200], y = [50, 100]%s },
]'''
MILL = "T3 M6\nS12500 M3\nG0 Z20\n"
ACROSS = MILL + "G0 X100 Y-20\nG0 Z3\nG1 Z-0.4 F500\nG1 Y120 F2000\nG0 Z20\n"  # a mill of 6 along Y


def halves(back: str = "") -> str:
    return HALVES % (", " + back if back else "")


def of(*parts: Part, **board) -> Job:
    cutter = Cutter(number=1, shape="flat", diameter=6)
    stage = Stage(name="a", program="a.nc")
    return Job(board=Board(parts=parts, **board), cutters=(cutter,), stages=(stage,))


# --- pieces -------------------------------------------------------------------------------------------

def test_slats_are_pieces_with_open_slots_between():
    """Five slats of 30 at 40: 5 x 30 x 200 of board, 10 open between; `count` is how many there are in
    all."""
    job = of(Part(name="slats", x=(0, 200), y=(0, 30), repeat=Repeat(count=5, step=(0, 40))), thickness=18)
    pieces = pieces_of(job)
    assert [piece.name for piece in pieces] == [f"slats {n}" for n in range(1, 6)]
    assert board_outline(job).area == pytest.approx(5 * 30 * 200)
    assert board_outline(job).bounds == (0, 0, 200, 190)


@pytest.mark.parametrize(("keys", "top", "thickness"), [
    ({}, 0, 18), ({"thickness": 12}, -6, 12), ({"top": -0.8}, -0.8, 17.2),
    ({"top": 1, "thickness": 12}, 1, 12)])
def test_what_a_part_leaves_out_follows_from_the_bed_it_lies_on(keys, top, thickness):
    """[board] is 18 thick with its top at 0, so the bed is at -18."""
    (piece,) = pieces_of(of(Part(name="p", x=(0, 1), y=(0, 1), **keys), thickness=18, material="MDF"))
    assert (piece.top, piece.thickness, piece.material) == (top, pytest.approx(thickness), "MDF")


def test_a_stage_has_the_parts_that_it_names():
    job = of(Part(name="front", x=(0, 9), y=(0, 9)), Part(name="back", x=(0, 9), y=(9, 20)))
    assert [p.name for p in lying(job, Stage(name="a", program="a", parts=("back",)))] == ["back"]
    assert len(lying(job, job.stages[0])) == 2


# --- what is cut --------------------------------------------------------------------------------------

def test_halves_of_two_heights_give_two_depths(judged):
    """The back lies 0.3 lower: 6 x 50 x 0.4 off the front, 6 x 50 x 0.1 off the back."""
    result = judged(ACROSS, outline=halves("top = -0.3"))
    assert result.stages[0].removed_volume == pytest.approx(6 * 50 * (0.4 + 0.1), rel=1e-5)
    assert result.surface.at(20.5, 75.5) == pytest.approx(-0.3)


def test_halves_of_one_height_are_cut_as_one_board(judged):
    whole, parts = judged(ACROSS), judged(ACROSS, outline=halves())
    assert np.array_equal(whole.surface.heights, parts.surface.heights)
    assert {f.kind for f in whole.findings} == {f.kind for f in parts.findings}


def test_a_part_that_is_off_is_not_cut_and_keeps_its_cells(judged):
    """The front alone, then both: the back is cut when it lies there, and lies off the map when it does
    not."""
    result = judged(ACROSS, outline=halves(), stage='parts = ["front"]', then='parts = ["front", "back"]')
    assert [s.removed_volume for s in result.stages] == [pytest.approx(6 * 0.4 * 50, rel=1e-5)] * 2
    first = result.records[1].cut.before
    assert first[80, 100] == 0.0
    assert result.surface.at(100.5, 80.5) == pytest.approx(-0.4)
    result = judged(ACROSS, outline=halves(), then='parts = ["front"]')
    assert np.isnan(result.surface.at(100.5, 80.5))
    assert result.stages[1].removed_volume == 0.0


def test_a_saved_surface_has_the_part_that_is_off(judged):
    result = judged(ACROSS, outline=halves(), then='parts = ["front"]')
    assert np.isnan(result.surface.at(100.5, 80.5))
    assert result.kept.at(100.5, 80.5) == pytest.approx(-0.4)
    assert judged(ACROSS, outline=halves()).kept is None


PALLET = halves().replace("\n]", '\n  { name = "pallet", x = [0, 200], y = [50, 100], thickness = 17, '
                          'material = "acetal" },\n]')


def test_a_half_is_swapped_for_a_pallet(judged):
    """The pallet is 17 thick: its top is at -1, and a pass at -0.4 takes nothing of it."""
    front_and = 'parts = ["front", "{}"]'.format
    result = judged(ACROSS, outline=PALLET, stage=front_and("back"), then=front_and("pallet"))
    assert [s.removed_volume for s in result.stages] == [pytest.approx(6 * 100 * 0.4), 0.0]
    assert result.surface.at(100.5, 80.5) == -1.0
    assert np.isnan(result.kept.heights).sum() == 0  # the half that is off has no place free


# --- checks -------------------------------------------------------------------------------------------

def test_each_half_is_kept_as_thick_as_is_said(found):
    """17.6 and 17.3 thick less 0.4: 17.5 to be kept leaves the front alone."""
    said = found("over-depth", ACROSS, outline=halves("thickness = 17.8"), board="keep = 17.5")
    assert [f.limit for f in said] == [pytest.approx(-0.5)] * len(said) == []
    said = found("over-depth", ACROSS.replace("-0.4", "-0.6"), outline=halves("thickness = 17.8"),
                 board="keep = 17.5")
    assert {round(f.limit, 6) for f in said} == {-0.5}
    (first,) = said
    assert "front" in first.message() or "back" in first.message()


def test_each_material_has_its_own_window(found):
    """A router bit of 6 in MDF takes 0.05 an edge at least, in acetal as much; 2 edges at 12 500."""
    slow = ACROSS.replace("F2000", "F300")
    said = found("chip-thin", slow, outline=halves('material = "acetal"'))
    assert [f.about for f in said] == ["mill 6 in MDF", "mill 6 in acetal"]
    assert [f.about for f in found("chip-thin", slow, outline=halves())] == ["mill 6"]
    front = slow.replace("Y120", "Y46.9")  # the rim ends 0.1 before the seam
    assert [f.about for f in found("chip-thin", front, outline=halves('material = "acetal"'))] == [
        "mill 6 in MDF"]


def test_chips_pack_sooner_in_plastic_than_in_wood(found):
    """20 deep with a drill of 6.6: 3.03 diameters, over the 2 of plastics, under the 4 of wood."""
    lines = "T2 M6\nS6000 M3\nG0 Z20\nG0 X50 Y{}\nG98 G81 Z-17 R2 F600\nG80\n"
    back = halves('material = "acetal"')
    assert len(found("chips-packed", lines.format(75), outline=back)) == 1
    assert found("chips-packed", lines.format(25), outline=back) == []


@pytest.mark.parametrize(("to", "severity"), [("Y59", Severity.STOP), ("Y46", None)])
def test_another_part_that_is_run_over_is_a_stop_and_named(found, to, severity):
    """The face ends at 50; the mill's rim at 59 + 3 is 12 in the back: within the run-out on one board, but
    the back is another part."""
    stage = 'face = { x = [0, 200], y = [0, 50], z = -0.4 }'
    said = found("cut-outside", ACROSS.replace("Y120", to), outline=halves(), stage=stage)
    assert [f.severity for f in said] == ([severity] if severity else [])
    assert all("in the part back" in f.message() for f in said)


def test_a_hole_comes_through_its_own_part(found):
    """The back is 12 thick on the same bed, its top at -6: through is -18 in both, 5 deep is -5 and -11."""
    drill = "T2 M6\nS6000 M3\nG0 Z20\nG0 X50 Y{}\nG98 G83 Z{} R2 Q5 F600\nG80\n"
    wanted = "holes = {{ at = [[50, {}]], diameter = 6.6, depth = 5 }}"
    for y, z, count in ((25, -7.1, 0), (75, -7.1, 1), (75, -13.1, 0)):
        said = found("hole-shallow", drill.format(y, z), outline=halves("thickness = 12"),
                     stage=wanted.format(y))
        assert len(said) == count


SCREW = ('[[fasteners]]\nname = "s"\nhead = { diameter = 8, height = 3 }\nseat = -5\nat = [[100, 80]]\n'
         'part = "back"\n')


def test_cover_over_a_head_counts_from_its_parts_top(judged):
    """Head top at -2 under the back's top at -0.3: 1.7, less what the pass leaves at -0.4: 1.6."""
    for lines, cover in (("G0 Z25\n", 1.7), (ACROSS, 1.6)):
        result = judged(lines, outline=halves("top = -0.3"), more=SCREW)
        assert {c.about: c.cover for c in result.stages[0].clearances}["s 1"] == pytest.approx(cover)


def test_screws_go_with_their_part(judged):
    """With the back off its screw is not there to be struck; fitting it there is the job's mistake."""
    deep = ACROSS.replace("-0.4", "-3")
    assert "head-strike" in {f.kind for f in judged(deep, outline=halves(), more=SCREW).findings}
    off = judged(deep, outline=halves(), more=SCREW, stage='parts = ["front"]')
    assert "head-strike" not in {f.kind for f in off.findings}
    for free in (SCREW, SCREW.replace('part = "back"\n', "")):
        off = judged(deep, outline=halves(), more=free, stage='parts = ["front"]')
        assert "head-strike" not in {f.kind for f in off.findings}
    with pytest.raises(JobError, match="which is off the machine here"):
        judged(deep, outline=halves(), more=SCREW, stage='parts = ["front"]\nfitted = ["s"]')


def test_what_bears_on_one_half_does_not_hold_the_other(found):
    said = found("loose", ACROSS, outline=halves(), more=SCREW)
    assert [(f.about, f.severity) for f in said] == [("front", Severity.STOP), ("back", Severity.CAUTION)]


def test_a_clamp_stands_over_the_top_of_its_part(judged):
    clamp = '[[clamps]]\nname = "c"\nx = [0, 20]\ny = [60, 80]\nabove = 10\npart = "back"\n'
    result = judged("G0 Z25\n", outline=halves("top = -2"), more=clamp)
    assert result.records[0].solids[0].clamps[0].top == 8.0


ANYWHERE = SCREW.replace('part = "back"\n', "")


def test_each_of_two_swapped_parts_has_its_own_face_over_a_screw(judged):
    """Back at 0, faced to -0.4 over the head (top -2): 1.6. The pallet's top is at -1: 1.0, and the back,
    laid again, has its 1.6."""
    with_ = 'parts = ["front", "{}"]'.format
    first = judged(ACROSS, outline=PALLET, more=ANYWHERE, stage=with_("back"), then=with_("pallet"))
    covers = [{c.about: c.cover for c in stage.clearances}["s 1"] for stage in first.stages]
    assert covers == [pytest.approx(1.6), pytest.approx(1.0)]


def test_a_screw_is_driven_in_anew_where_another_part_lies(judged):
    """Seated on the floor: head 3 high on the back at 0, then on the pallet at -1."""
    lines, floor = "G0 Z25\n", ANYWHERE.replace("seat = -5", 'seat = "floor"')
    with_ = 'parts = ["front", "{}"]'.format
    result = judged(lines, outline=PALLET, more=floor, stage=with_("back"), then=with_("pallet"))
    tops = [record.solids[0].heads[0].top for record in result.records]
    assert tops == [3.0, 2.0]


def test_too_little_says_how_many_are_wanted(found):
    (said,) = found("loose", ACROSS, more=SCREW.replace('part = "back"\n', ""))
    assert "3 or more, not all in one line" in said.advice()


# --- mistakes -----------------------------------------------------------------------------------------

@pytest.mark.parametrize(("y", "words"), [("[49.9, 100]", '"back" overlaps "front"'), ("[50, 100]", None)])
def test_parts_that_overlap_are_the_jobs_mistake(judged, y, words):
    outline = halves().replace("[50, 100]", y)
    if words is None:
        judged("G0 Z25\n", outline=outline)
        return
    with pytest.raises(JobError, match=words):
        judged("G0 Z25\n", outline=outline)


def test_parts_may_share_a_place_at_different_times(judged):
    with pytest.raises(JobError, match=r'board.parts\[3\].*"pallet" overlaps "back".*stage "then"'):
        judged("G0 Z25\n", outline=PALLET, stage='parts = ["front", "back"]',
               then='parts = ["back", "pallet"]')


def test_pieces_of_one_part_that_overlap(judged):
    slats = ('parts = [ {{ name = "s", x = [0, 200], y = [0, 30], '
             'repeat = {{ count = 3, step = [0, {}] }} }} ]')
    judged("G0 Z25\n", outline=slats.format(30))
    with pytest.raises(JobError, match=r"board.parts\[1\].repeat.*overlap each other"):
        judged("G0 Z25\n", outline=slats.format(29))
