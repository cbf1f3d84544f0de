"""The page of dialects says what the shipped files say: every key, every condition, every other answer."""

import re

import pytest
from proveout.parser.dialect import BASE, load_dialect, shipped
from proveout.parser.dialect_keys import KEYS
from proveout.viewer.dialects import OWN, answer, page


def test_every_key_and_every_condition_stands_on_the_page():
    text = page()
    for key, decided in KEYS.items():
        assert f"\n{key}: {decided.says}\n" in text
    for condition in load_dialect(BASE).conditions:
        assert re.search(rf"^{condition} +(off|note|caution|stop)", text, re.MULTILINE)
    assert all(f"**{name}**: {load_dialect(name).title}" in text for name in shipped())


@pytest.mark.parametrize("name", shipped())
def test_an_answer_that_is_not_the_reports_is_told_with_its_dialect(name):
    text = page()
    for key in KEYS:
        if answer(name, key) != answer(BASE, key):
            part = text.split(f"\n{key}: ")[1].split("\n")
            row = next(line for line in part[2:] if re.search(rf"\b{name}\b", line.split(": ")[0]))
            assert row.split(": ", 1)[1] == answer(name, key)


def test_the_example_is_a_dialect():
    dialect = load_dialect(OWN, name="ours")
    assert dialect.name == "ours"
    assert dialect["rapid.path"] == "linear"
    assert dialect.alternatives["home.axes"] == ("all",)


def test_the_page_is_shown(capsys):
    from proveout.viewer.manual import show_page
    assert show_page("dialects") == 0
    assert "cycle.g83_return" in capsys.readouterr().out
