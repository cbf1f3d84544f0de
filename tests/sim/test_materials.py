"""The material table and its look-up. Figures without a mark: common practice, no published source."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.job import Cutter
from proveout.sim.materials import TABLES, material, materials, window


@pytest.mark.parametrize(("said", "meant"), [
    ("MDF", "MDF"), ("mdf", "MDF"), ("MDF, 19 mm", "MDF"), ("Medium-Density Fibreboard", "MDF"),
    ("birch plywood", "plywood"), ("Birch Ply", "plywood"), ("birch", "hardwood"),
    ("Softwood", "softwood"), ("pine", "softwood"), ("hard-wood", "hardwood"), ("oak", "hardwood"),
    ("HDPE", "HDPE"), ("PE-HD", "HDPE"), ("acetal", "acetal"), ("POM-C", "acetal"),
    ("cast acrylic", "acrylic"), ("PMMA", "acrylic"), ("aluminium", "aluminium"),
    ("Aluminum 6061", "aluminium"),
    ("particle board", "particle board"), ("particleboard", "particle board"),
    ("Chipboard", "particle board")])
def test_trade_words_are_known(said, meant):
    found = material(said)
    assert found is not None
    assert found.name == meant


@pytest.mark.parametrize("said", [None, "", "granite", "ashtray", "board", "wood"])
def test_other_words_name_no_material(said):
    assert material(said) is None


@pytest.mark.parametrize("said", ["MDF", "plywood", "softwood", "hardwood", "particle board"])
def test_wood_is_wood(said):
    assert material(said).family == "wood"


def test_facing_mdf_has_the_window_of_the_trade():
    """Wide insert surfacing cutters; common practice, no published source."""
    row = window(Cutter(number=1, shape="facing", diameter=25.4), "MDF")
    assert (row.floor, row.typical, row.upper) == (0.03, (0.06, 0.15), 0.30)
    assert "common practice, no published source" in row.source


@pytest.mark.parametrize(("diameter", "upper"), [
    (3.0, 0.18), (3.2, 0.18), (6.35, 0.41), (9.5, 0.58), (20, 0.69), (4.775, 0.295)])
def test_router_bits_end_where_the_published_chart_does(diameter, upper):
    """Supplier chart, two suppliers alike, MDF at depth = diameter; half way between columns, half way."""
    row = window(Cutter(number=1, shape="flat", diameter=diameter), "MDF")
    assert row.upper == pytest.approx(upper)
    assert row.typical[1] <= row.upper


def test_drills_share_the_feed_of_a_turn_between_two_lips():
    """MDF 0.10 to 0.35 mm a turn, rubbing below 0.03; common practice, no published source."""
    row = window(Cutter(number=1, shape="drill", diameter=6.6), "MDF")
    assert (row.floor, *row.typical, row.upper) == pytest.approx((0.015, 0.05, 0.175, 0.175))


def test_the_job_knows_better_than_the_table():
    own = Cutter(number=1, shape="cone", angle=60, chip_load=(0.01, 0.05))
    assert (window(own, None).floor, window(own, None).upper) == (0.01, 0.05)


@pytest.mark.parametrize(("shape", "diameter", "said"), [
    ("facing", 25, "granite"), ("facing", 25, None), ("flat", 1.5, "MDF"), ("cone", 6, "MDF"),
    ("profile", None, "MDF")])
def test_what_the_table_lacks_has_no_window(shape, diameter, said):
    assert window(Cutter(number=1, shape=shape, diameter=diameter), said) is None


@given(st.sampled_from(materials()), st.sampled_from(sorted(TABLES)), st.floats(3, 100))
def test_every_window_is_a_window(stuff, shape, diameter):
    row = window(Cutter(number=1, shape=shape, diameter=diameter), stuff.name)
    assert 0 < row.floor < row.typical[0] < row.typical[1] <= row.upper


def test_every_row_names_its_source():
    marks = re.compile(r"\[(CP|P1|P4|P6|M)\]")
    for stuff in materials():
        assert stuff.energy[0] < stuff.energy[1]
        for source in (stuff.energy_source, *(row.source for row in stuff.rows.values())):
            assert marks.search(source), source
            assert ("[CP]" in source) == ("common practice, no published source" in source)


def test_every_material_answers_to_its_own_words():
    for stuff in materials():
        assert material(stuff.name) is stuff
        for word in stuff.words:
            assert material(word.upper()) is stuff
