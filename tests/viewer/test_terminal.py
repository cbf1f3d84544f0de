"""The first screen: its order, its words, its width; the same words with and without colour.

Gold files hold whole screens; PROVEOUT_GOLD=1 takes a wanted change over into them.
"""

from __future__ import annotations

import io
import os
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.finding import Severity, registry
from proveout.parser.job import Fastener, Grid
from proveout.viewer.layout import TONES, Row, clean, plain, show, wrap
from proveout.viewer.manual import why
from proveout.viewer.standing import screw_place, standing
from proveout.viewer.terminal import report
from rich.cells import cell_len
from rich.console import Console

GOLD = Path(__file__).parent / "gold"
ORDER = ["DO NOT RUN", "face.nc sha256", "1 reason not to run it", "WHAT", "when", "where", "size", "why",
         "do", "ALL", "STAND", "screws in", "stops", "GAPS", "CUT", "LEFT", "UNSEEN",
         "never checked", "THEN", "Eyes"]


@pytest.fixture(autouse=True)
def fixed_wording(monkeypatch):
    """Sentences belong to the registry and pages to their kinds; here only the screen is under test."""
    kinds = {name: replace(kind, sentence=f"What happened ({name}).", advice="Change a number to 1.")
             for name, kind in registry().items()}
    monkeypatch.setattr("proveout.parser.finding.registry", lambda: kinds)
    monkeypatch.setattr("proveout.viewer.terminal.why", lambda kind: "Why it matters.")


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("name", ["result", "clear_result"])
def test_screen_is_the_gold_one(request, name, width):
    made = plain(report(request.getfixturevalue(name)), width)
    gold = GOLD / f"{name}-{width}.txt"
    if os.environ.get("PROVEOUT_GOLD"):
        gold.write_text(made, encoding="utf-8", newline="\n")
    assert made == gold.read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [80, 120])
def test_order_width_and_length(result, width):
    made = plain(report(result), width)
    at = 0
    for word in ORDER:
        at = made.index(word, at)
    assert max(cell_len(line) for line in made.splitlines()) <= width
    assert len(made.splitlines()) <= (36 if width == 80 else 32)  # "about 24 lines", plan and knob too


def test_colour_changes_no_word(result):
    shown = io.StringIO()
    show(report(result), Console(file=shown, force_terminal=True, color_system="256", width=80))
    assert "\x1b[" in shown.getvalue()
    assert re.sub(r"\x1b\[[0-9;]*m", "", shown.getvalue()) == plain(report(result), 80)


def test_plain_text_has_no_escape_code(result):
    assert "\x1b" not in plain(report(result), 80)


def test_a_clear_verdict_is_not_green_and_promises_nothing(clear_result):
    assert "green" not in " ".join(TONES.values())
    made = plain(report(clear_result), 80)
    assert made.startswith("NOTHING FOUND")
    assert "no promise" in made
    assert "in the air" in made
    assert "safe" not in made.lower()


def test_caution_says_look_first(result):
    looked = replace(result, findings=tuple(f for f in result.findings if f.severity is Severity.CAUTION))
    assert plain(report(looked), 80).startswith("LOOK FIRST")


def test_what_could_steer_a_terminal_is_shown_as_text(result):
    hostile = replace(result.job, title="\x1b[2J[bold]gone\x07")
    made = plain(report(replace(result, job=hostile)), 80)
    assert "\x1b" not in made
    assert "\x07" not in made
    assert "[bold]gone" in made


def test_everything_shows_every_finding_and_reason(result):
    many = replace(result, findings=result.findings * 5)
    short, long = plain(report(many), 80), plain(report(many, everything=True), 80)
    assert "--all: in full" in short
    assert "and 4 more like it" in short
    assert "--all" not in long
    assert long.count("What happened") == 15
    assert "machine.nose is not given" in " ".join(long.split())


def test_inch_job_shows_inches(inch_result):
    made = plain(report(inch_result), 80)
    assert " mm" not in made
    assert " in" in made


def test_screws_are_named_by_row_and_place(result):
    """Rows count from the operator, places from the left, however the screws were written down."""
    assert screw_place(result.job, "edge screws 3") == "row 2, place 1"
    listed = Fastener(name="odd", at=((50, 70), (10, 5), (90, 6)))
    job = replace(result.job, fasteners=(listed,))
    places = [screw_place(job, f"odd {n}") for n in (1, 2, 3)]
    assert places == ["row 2, place 1", "row 1, place 1", "row 1, place 2"]
    assert screw_place(job, "odd 4") == ""
    assert screw_place(job, "front left") == ""


def test_staggered_rows_keep_their_numbers(result):
    grid = Fastener(name="g", grid=Grid(start=(0, 0), count=(3, 2), pitch=(40, 40), stagger=20))
    assert screw_place(replace(result.job, fasteners=(grid,)), "g 6") == "row 2, place 3"


def test_what_stands_follows_the_stages(result):
    first = replace(result.job.stages[0], name="a", fitted=(), clamps=("front left",))
    later = replace(first, name="b", fitted="as left", clamps="as left", changes=())
    job = replace(result.job, stages=(first, later))
    assert standing(job, "a").clamps == ("front left",)
    assert standing(job, "b").clamps == ()
    assert standing(job, "b").fitted == ()
    all_in = replace(job, stages=(replace(first, fitted=None, clamps=None, changes=()),))
    assert standing(all_in, "a").fitted == ("edge screws",)


@given(st.text(max_size=200), st.integers(12, 60))
def test_wrapping_keeps_every_word_and_the_width(text, room):
    lines = wrap(clean(text), room, room)
    assert all(cell_len(line) <= room for line in lines)
    assert "".join("".join(lines).split()) == "".join(clean(text).split())


def test_a_long_label_pushes_its_text():
    assert plain([Row("NOTHING FOUND", "title")], 80) == "NOTHING FOUND  title\n"


def test_why_is_quoted_from_the_kinds_page():
    assert why("head-strike") == "Edges break and fly, sparks fall into dust, the board is torn loose."
    assert all(why(kind) for kind in registry())


def test_of_several_stages_only_one_is_shown_in_full(result):
    """The stage of the worst reason stands in full, the others in a row that says how to see them."""
    again = replace(result.job.stages[0], name="again")
    two = replace(result, job=replace(result.job, stages=(*result.job.stages, again)),
                  stages=(*result.stages, replace(result.stages[0], name="again")))
    said = plain(report(two), 80)
    assert said.count("STAND") == 1
    assert said.count('--stage "again" shows it') == 1
    assert plain(report(two, everything=True), 80).count("STAND") == 2
