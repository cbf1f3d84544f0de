"""The demo's board through its whole life: drilled between moving clamps, fastened, faced, faced again from
the saved surface until the screws end it.

The law: every answer on the way is the one that a person works out by hand; the figures are written here.

- ISO 7380-1 M6: the head is 3.3 high at most; ISO 7089 M6: the washer is 1.8 thick at most (the reference's
  table of fasteners). On a seat at Z -8.0 the head's top is at -8.0 + 1.8 + 3.3 = -2.9.
- After the n-th facing, 0.4 deeper each time, the face is at -0.4 n and 2.9 - 0.4 n of board would stand over
  a head. With 1.0 to keep over heads, floor((2.9 - 0.4 n - 1.0) / 0.4) facings are left: 3, 2, 1, 0, 0, …
- The fifth facing leaves 0.9 over a head: less than is to be kept. The eighth would go 0.3 below its top.
"""

from __future__ import annotations

from math import floor

import numpy as np
import pytest
from proveout.parser.finding import Severity
from proveout.parser.jobfile import read_job
from proveout.sim.fitting import KNOWN
from proveout.sim.result import Result, Verdict
from proveout.sim.verify import verify
from proveout.viewer.demo.run import write_files

TOP_OF_HEAD, EACH, KEPT = -2.9, 0.4, 1.0
DRILLED = 'recess = { cut_by = "drill" }'
LIVES = 8


def of(folder, job: str = "job.toml") -> Result:
    return verify(read_job(folder / job, KNOWN))


def job_again(text: str, number: int) -> str:
    """The demo's job file for its n-th facing: the board as it was left, what was faced off it written down,
    no drilling any more. Thickness and recess are what a person measures then."""
    head, *stages = text.split("[[stages]]\n")
    off, past = EACH * (number - 1), ", ".join(
        f"{{ depth = {EACH}, thickness = {18 - EACH * n:.1f} }}" for n in range(1, number))
    head = head.replace("top = 0.0\nthickness = 18.0", f'surface = "after-{number - 1}.npz"\n'
                        f"thickness = {18 - off:.1f}\nhistory = [ {past} ]")
    head = head.replace(DRILLED, f"recess = {{ diameter = 13.0, depth = {8 - off:.1f} }}")
    face = next(stage for stage in stages if 'name = "face"' in stage)
    face = face.replace("z = -0.4", f"z = {-EACH * number:.1f}").replace("face.nc", f"face-{number}.nc")
    return f"{head}[[stages]]\n{face}"


@pytest.fixture(scope="module")
def life(tmp_path_factory) -> list[Result]:
    """The result of each facing; the first comes after drilling."""
    folder = tmp_path_factory.mktemp("life")
    write_files(folder)
    home = folder / "corrected"
    job, face = ((home / name).read_text() for name in ("job.toml", "face.nc"))
    found = [of(home)]
    for number in range(2, LIVES + 1):
        left = found[-1]
        (left.kept or left.surface).save(home / f"after-{number - 1}.npz")
        (home / f"face-{number}.nc").write_text(face.replace("Z-0.4", f"Z-{EACH * number:.1f}"))
        (home / f"job-{number}.toml").write_text(job_again(job, number))
        found.append(of(home, f"job-{number}.toml"))
    return found


def kinds(result: Result, severity: Severity) -> set[str]:
    return {f.kind for f in result.findings if f.severity is severity}


def test_the_holes_are_drilled_over_the_beds_own_while_clamps_move(life):
    """20 clearance holes of 6.6 on the bed's grid of 120 x 100 from (60, 50), 6 counterbores of 13 to Z -8;
    the front clamps come off and the back ones go on at the only stop."""
    drilled, _ = life[0].stages
    wanted = {(60 + 120 * i, 50 + 100 * j) for i in range(5) for j in range(4)}
    through = {tuple(round(v, 6) for v in hole.at) for hole in drilled.holes if hole.through}
    assert through == wanted
    sunk = [hole for hole in drilled.holes if not hole.through]
    assert {tuple(round(v, 6) for v in h.at) for h in sunk} == {(60 + 240 * i, 50 + 300 * j)
                                                                for i in range(3) for j in range(2)}
    assert {(round(h.diameter, 6), round(h.bottom, 6)) for h in sunk} == {(13.0, -8.0)}
    before, after = (life[0].records[0].solids[n].clamps for n in (0, -1))
    assert {c.about for c in before} == {"left", "right", "front left", "front right"}
    assert {c.about for c in after} == {"left", "right", "back left", "back right"}


@pytest.mark.parametrize("number", range(1, LIVES + 1))
def test_each_facing_lowers_the_whole_board_and_nothing_else(life, number):
    """600 x 400 without 14 holes and 6 counterbores, each in the middle of a hole; 0.4 lower each time."""
    result, area = life[number - 1], 600 * 400 - np.pi * (14 * 3.3**2 + 6 * 6.5**2)
    face = result.stages[-1].face
    assert face is not None
    assert face.area == pytest.approx(area, rel=1e-5)
    assert face.missed_area == pytest.approx(0, abs=1e-6)
    assert face.over_area == pytest.approx(0, abs=1e-6)
    assert (face.highest, face.lowest) == pytest.approx((-EACH * number,) * 2, abs=1e-6)
    assert result.stages[-1].removed_volume == pytest.approx(area * EACH, rel=2e-3)  # cells at holes' edges


@pytest.mark.parametrize("number", range(1, LIVES + 1))
def test_what_stays_over_each_head_and_how_many_facings_are_left(life, number):
    result = life[number - 1]
    cover = -EACH * number - TOP_OF_HEAD
    gaps = [gap for gap in result.stages[-1].clearances if gap.about.startswith("hold-down")]
    assert len(gaps) == 6
    assert [gap.cover for gap in gaps] == pytest.approx([cover] * 6, abs=1e-6)
    budget = result.budget
    assert budget.cover_over_heads == pytest.approx(cover, abs=1e-6)
    assert budget.depth == pytest.approx(EACH, abs=1e-6)
    assert budget.facings_left == max(0, floor((cover - KEPT) / EACH + 1e-9))
    assert budget.limited_by is not None
    assert budget.limited_by.startswith("hold-down screws")


@pytest.mark.parametrize(("number", "verdict", "stops", "looks"), [
    (1, Verdict.CLEAR, set(), set()),
    (2, Verdict.CLEAR, set(), set()),
    (3, Verdict.CAUTION, set(), {"budget-low"}),
    (4, Verdict.CAUTION, set(), {"budget-low"}),
    (5, Verdict.CAUTION, set(), {"budget-low", "head-near"}),
    (6, Verdict.CAUTION, set(), {"budget-low", "head-near"}),
    (7, Verdict.CAUTION, set(), {"budget-low", "head-near"}),
    (8, Verdict.STOP, {"head-strike"}, {"budget-low"}),
])
def test_the_answer_before_each_facing(life, number, verdict, stops, looks):
    result = life[number - 1]
    assert kinds(result, Severity.STOP) == stops
    assert kinds(result, Severity.CAUTION) == looks
    assert result.verdict is verdict


def test_the_facing_too_many_goes_three_tenths_below_every_head(life):
    """-3.2 against -2.9, for six screws."""
    struck = [f for f in life[-1].findings if f.kind == "head-strike"]
    assert len(struck) == 6
    assert [f.value for f in struck] == pytest.approx([-0.3] * 6, abs=1e-6)


def test_the_second_stages_cutter_is_held_against_the_first_ones_length(tmp_path):
    """The origin was measured with the drill, 104 long; the facing cutter is 70: at Z -0.4 the machine is at
    -0.4 - 71.2 + 70 - 104 = -105.6, which is too low for a travel that ends at -105."""
    write_files(tmp_path)
    home = tmp_path / "corrected"
    text = (home / "job.toml").read_text()
    assert not any("travel in Z" in said.what for said in of(home).unchecked)
    (home / "job.toml").write_text(text.replace("z = [-130, 0]", "z = [-105, 0]"))
    [found] = [f for f in of(home).findings if f.kind == "travel"]
    assert (found.about, found.stage, found.value) == ("Z", "face", pytest.approx(-105.6))
