"""What may be wrong, in words: each figure with what ends it, and nothing said where nothing stands."""

from __future__ import annotations

from math import inf

import pytest
from proveout.parser.units import Units
from proveout.sim.slack import Bound
from proveout.sim.stage_figures import ClearanceFigures, SlackFigures, ZeroFigures
from proveout.viewer.slack_rows import bears_words, holder_words, slack_words, zero_words

FREE = Bound(inf)


def slack(**given) -> SlackFigures:
    names = ("left", "right", "front", "back", "down", "up", "z_zero", "head_z", "head_xy")
    return SlackFigures(**(dict.fromkeys(names, FREE) | given))


def test_what_the_job_bears_is_said_with_what_ends_it():
    found = slack(z_zero=Bound(0.616, "screws 2"), head_z=Bound(0.7, "screws 2"), head_xy=Bound(50.0))
    said = "Z zero 0.616 mm too low (screws 2), or heads 0.7 mm higher (screws 2)"
    assert bears_words(found, Units.MM) == said
    assert bears_words(slack(), Units.MM) == ""


def test_where_something_is_met_no_doubt_is_left():
    assert bears_words(slack(z_zero=Bound(-1.2, "bed")), Units.MM) == "no doubt: the bed is met as it is"


def test_each_side_is_said_as_far_as_it_is_known():
    found = slack(left=Bound(3.0, "front left"), right=Bound(50.0), up=Bound(11.2, "travel"))
    said = "zero may be moved left 3 mm (front left), right over 50 mm, up 11.2 mm (travel)"
    assert slack_words(found, Units.MM) == said


@pytest.mark.parametrize(("zero", "words"), [
    (ZeroFigures("bed", -18.0, False, 18.4, "bed", 16.4, 3.0),
     "on the bed: meets the bed by 16.4 mm, rapids 3 mm into the board, cuts 18.4 mm deep"),
    (ZeroFigures("board", 0.0, False, -17.6), "on the board's top: cuts air"),
    (ZeroFigures("face", -0.4, False, None), "on what the facing left: cuts air"),
])
def test_what_another_zero_does(zero, words):
    assert zero_words(zero, Units.MM) == words


def test_an_inch_job_has_inches():
    gap = ClearanceFigures("front left", 25.4, 12, (0.0, 0.0, 0.0), part="nut")
    assert holder_words(gap, Units.INCH) == "nut to front left: 1 in free at line 12"


def test_the_first_screen_tells_the_worst_of_another_zero_alone():
    zero = ZeroFigures("bed", -18.0, False, 18.4, "bed", 16.4, 3.0)
    assert zero_words(zero, Units.MM, False) == "on the bed: meets the bed by 16.4 mm"
