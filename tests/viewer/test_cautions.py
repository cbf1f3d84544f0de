"""The usual cautions stand where a job calls for them, and nowhere else; none calls anything safe.

What they say is common practice, no published source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from proveout.parser.job import Board, Cutter
from proveout.viewer.cautions import cautions
from proveout.viewer.layout import plain
from proveout.viewer.page.tables import figures_of
from proveout.viewer.terminal import report


def of(result, **changes) -> str:
    return " ".join(cautions(replace(result, job=replace(result.job, **changes))))


@pytest.mark.parametrize(("material", "words"), [
    ("MDF", "respirator"), ("acetal", "soften"), ("aluminium", "hot and sharp"), ("cheese", None),
    (None, None)])
def test_each_stuff_has_its_own(result, material, words):
    said = of(result, board=Board(material=material, x=(0, 100), y=(0, 80)))
    for each in ("respirator", "soften", "hot and sharp"):
        assert (each in said) == (each == words)


@pytest.mark.parametrize(("changes", "words"), [
    ({"max_rpm": 18000.0}, "never faster than the 18000 rpm marked on it"),
    ({"max_rpm": None}, "read the speed marked on it"),
    ({"edges": 2, "seats": 4}, "turns with 2 of 4 inserts")])
def test_cutters(result, changes, words):
    cutter = replace(result.job.cutters[0], **changes)
    assert words in of(result, cutters=(cutter,))


def test_what_the_job_does_not_have_is_not_spoken_of(result):
    bare = of(result, fasteners=(), clamps=(), cutters=(Cutter(number=1, shape="drill", diameter=6.0),))
    assert not any(word in bare for word in ("screw head", "Clamps", "inserts", "ears"))
    assert "straightedge" in of(result)
    assert "coasts" in of(result)


def test_where_they_stand(result):
    """On the page, and on the terminal for those who ask for everything; "safe" is never said."""
    every = cautions(result)
    assert figures_of(result)["cautions"] == every
    assert "CARE" not in plain(report(result), 80)
    full = plain(report(result, everything=True), 80)
    assert "CARE" in full
    assert " ".join(every[0].split()) in " ".join(full.split())
    assert "safe" not in " ".join(every).lower()
