"""What a job silences is gone from the findings, and said with its reason; strikes cannot be silenced.

The oracle is the same job with nothing silenced.
"""

from __future__ import annotations

import pytest
from proveout.parser.jobsense import SILENT_NEVER
from proveout.parser.mistakes import JobError
from proveout.sim.result import Quieted, Verdict
from proveout.viewer.layout import plain
from proveout.viewer.record import record
from proveout.viewer.terminal import report

LINES = "G0 X-20 Y50\nG0 Z3\nG1 Z-0.4 F500\nG1 X220 F100\nG0 Z20\n"  # 0.004 mm an edge: far too thin
QUIET = 'quiet = [ { kind = "chip-thin", reason = "air cut at the edge" } ]'


def test_a_silenced_kind_is_gone_and_its_reason_is_said(judged):
    loud, still = judged(LINES), judged(LINES, stage=QUIET)
    kept = [f for f in loud.findings if f.kind != "chip-thin"]
    assert len(loud.findings) - len(kept) == 1
    assert still.findings == tuple(kept)
    (gone,) = still.quieted
    thin = next(f for f in loud.findings if f.kind == "chip-thin")
    assert (gone.kind, gone.reason, gone.count, gone.severity) == (
        "chip-thin", "air cut at the edge", thin.count, thin.severity)
    assert "air cut at the edge" in plain(report(still), 80)
    assert record(still)["quiet"][0]["reason"] == "air cut at the edge"


def test_it_is_silenced_in_its_stage_alone(judged):
    result = judged(LINES, stage=QUIET, then="")
    assert [f.kind for f in judged(LINES, stage=QUIET).findings].count("chip-thin") == 0
    result = judged(LINES, stage="", then=QUIET)
    assert [f.stage for f in result.findings if f.kind == "chip-thin"] == ["work"]


def test_what_silences_nothing_is_said(judged):
    result = judged(LINES.replace("F100", "F2000"), stage=QUIET)
    assert result.quieted == (Quieted("work", "chip-thin", "air cut at the edge"),)
    assert "nothing to silence" in plain(report(result), 80)


def test_a_silenced_stop_changes_the_verdict_and_is_told_as_a_stop(judged):
    deep = "G0 X-20 Y50\nG0 Z3\nG1 Z-1 F500\nG1 X220 F2000\nG0 Z20\n"
    stage = "face = { z = -0.4 }\nquiet = [ { kind = \"over-depth\", reason = \"a step is wanted\" } ]"
    result = judged(deep, stage=stage)
    assert result.verdict is not Verdict.STOP
    assert "(weight: stop); a step is wanted" in " ".join(plain(report(result), 80).split())


@pytest.mark.parametrize("kind", SILENT_NEVER)
def test_strikes_rapids_in_material_and_travel_are_never_silenced(judged, kind):
    with pytest.raises(JobError, match="cannot be silenced"):
        judged(LINES, stage=f'quiet = [ {{ kind = "{kind}", reason = "I know" }} ]')
