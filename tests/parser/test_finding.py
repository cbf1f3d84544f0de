"""The registry of kinds, the sentences made from it, and how repeats fold into one."""

from __future__ import annotations

import itertools
import pickle
import re
from string import Formatter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.parser.finding import (
    OWN_FIELDS,
    Finding,
    Phrase,
    Severity,
    finding,
    fold,
    place,
    placeholders,
    registry,
)
from proveout.parser.units import DIMENSIONS, Units

STOP, CAUTION, NOTE = "stop", "caution", "note"
SEVERITIES = {  # the public list of kinds: names and severities are a format that others rely on
    STOP: """head-strike clamp-strike obstacle-strike bed-strike holder-strike rapid-cut start-low travel
        plunge-no-centre core-rub over-depth hole-missing hole-off hole-shallow spindle-off spindle-reverse
        over-speed feed-missing cutter-unknown cutter-none seat-mismatch head-fit loose stop-hands
        scale-suspect off-board unread
        code-unknown code-unsupported code-conflict value-bad cycle-bad compensation-bad arc-mismatch
        flow-endless flow-missing""",
    CAUTION: """head-near clamp-near obstacle-near shoe-brush cut-outside missed-area edge-left ridge
        low-spot wall-left part-step deep-pass hole-extra hole-size hole-at-edge chips-packed
        spindle-early spindle-range chip-thin chip-thick plunge-fast feed-limit power cutter-doubtful
        touch-doubt touch-missing screw-length coolant-on-wood word-doubtful
        unplaced start-state end-missing history-doubt budget-low seat-thin""",
    NOTE: "rapid-near held-sparsely option-switch measure-doubt",
}
PUBLIC = {kind: severity for severity, kinds in SEVERITIES.items() for kind in kinds.split()}
KINDS = sorted(registry())
PROMISES = re.compile(r"\b(safe|safely|safety|secure|guarante\w+|harmless|no danger|ok|okay)\b", re.I)


def blanks(template: str) -> list[tuple[str, str]]:
    return [(name, spec or "") for _, name, spec, _ in Formatter().parse(template) if name]


def example(kind: str) -> Finding:
    """A finding of a kind with a value of the right sort in every blank."""
    entry = registry()[kind]
    sorts = dict(blanks(entry.sentence) + blanks(entry.advice))
    made = {name: (1.0, 2.0, 3.0) if sort == "place" else 1.5 if sort in DIMENSIONS and sort else f"<{name}>"
            for name, sort in sorts.items() if name not in OWN_FIELDS}
    return finding(kind, line=7, at=(1, 2, 3), shown=(4, 5, 6), value=1.25, limit=1.0, about="it", **made)


@pytest.mark.parametrize("kind", KINDS)
def test_names_and_severities_are_the_public_ones(kind):
    assert registry()[kind].severity.word == PUBLIC[kind]
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", kind)


def test_every_public_kind_is_registered():
    assert set(PUBLIC) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_every_blank_is_of_a_known_sort(kind):
    entry = registry()[kind]
    for name, sort in blanks(entry.sentence) + blanks(entry.advice):
        assert name.isidentifier()
        assert sort in DIMENSIONS or sort == "place", f"{kind}: {name}:{sort}"


@pytest.mark.parametrize("kind", KINDS)
def test_value_and_limit_have_a_meaning_and_a_unit(kind):
    entry = registry()[kind]
    assert entry.unit in DIMENSIONS
    assert bool(entry.value) == bool(entry.unit)
    assert not entry.limit or entry.value
    assert entry.limit_default is None or entry.limit


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("units", list(Units))
def test_sentence_and_advice_fill_in_both_units(kind, units):
    found = example(kind)
    for said in (found.message(units), found.advice(units)):
        assert said
        assert "{" not in said
        assert "None" not in said
        assert said.endswith(".")
        assert said[0] == said[0].upper()
        assert "..." not in said.replace("…", "...")
        if units is Units.INCH:
            assert not re.search(r"\d mm\b", said)
        else:
            assert not re.search(r"\d in\b", said)


@pytest.mark.parametrize("kind", KINDS)
def test_sentences_are_short_and_promise_nothing(kind):
    entry = registry()[kind]
    assert len(entry.sentence) <= 130
    assert len(entry.advice) <= 140
    assert not PROMISES.search(entry.sentence + " " + entry.advice)


def test_a_kind_that_is_not_in_the_registry_cannot_be_raised():
    with pytest.raises(KeyError):
        finding("head-strikes")


@pytest.mark.parametrize("numbers", [{}, {"what": "x", "fix": "y", "by": 1.0, "more": 2.0}])
def test_numbers_unsaid_or_missing_are_refused(numbers):
    with pytest.raises(ValueError, match="off-board"):
        finding("off-board", **numbers)


def test_a_finding_reads_as_written():
    found = finding("off-board", line=3, value=12.7, limit=1.0, what="it passes by",
                    fix="go nearer by", by=25.4)
    assert (found.message(), found.advice()) == ("It passes by 12.7 mm.", "Go nearer by 25.4 mm.")
    assert found.message(Units.INCH) == "It passes by 0.5 in."
    assert found.advice(Units.INCH) == "Go nearer by 1 in."
    assert found.unit == "length"
    assert found.lines == (3, 3)


def test_what_is_not_known_is_said_to_be_unknown():
    assert finding("off-board", what="The gap is", fix="", by=None).message() == "The gap is unknown."
    assert place((1.5, None, float("nan")), Units.MM) == "X1.5 Y? Z?"
    assert place((25.4, -12.7, 0.0), Units.INCH) == "X1 Y-0.5 Z0"


@pytest.mark.parametrize("kind", KINDS)
def test_findings_go_to_another_process_and_back(kind):
    found = example(kind)
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_blank_may_be_a_phrase_with_numbers_of_its_own():
    rest = Phrase("up to {far:length} beyond it", {"far": 12.7})
    found = finding("off-board", value=1.0, what=rest, fix="", by=1.0)
    assert found.message().startswith("Up to 12.7 mm beyond it")
    assert found.message(Units.INCH).startswith("Up to 0.5 in beyond it")


def test_placeholders_are_the_names_of_the_blanks():
    assert placeholders("{a:length} and {b}, {{c}} and {a:place}.") == {"a", "b"}


near = st.builds(
    lambda line, value, about, stage, severity: finding(
        "off-board", severity=severity, line=line, value=value, limit=1.0, about=about, stage=stage,
        what=f"gap {value}", fix="", by=value),
    st.integers(0, 50), st.none() | st.integers(-4, 4).map(float), st.sampled_from("ab"),
    st.sampled_from("xy"), st.sampled_from([Severity.CAUTION, Severity.STOP]))
some = st.lists(near, max_size=12)


def key(found: Finding) -> tuple:
    return found.stage, found.program, found.kind, found.severity, found.about


@given(some)
def test_folding_keeps_one_of_each_and_counts_them_all(findings):
    """Oracle: the groups, formed by sorting."""
    folded = fold(findings)
    groups = {k: list(g) for k, g in itertools.groupby(sorted(findings, key=key), key)}
    assert sorted(map(key, folded)) == sorted(groups)
    for found in folded:
        group = groups[key(found)]
        assert found.count == len(group)
        assert found.line == group[0].line
        assert found.lines[1] == max(f.line for f in group)
        worst = max((abs(f.value - 1.0) for f in group if f.value is not None), default=None)
        assert (found.value is None) == (worst is None)
        assert worst is None or abs(found.value - 1.0) == worst
        assert found.numbers["what"] == f"gap {found.value}"


@given(some)
def test_folding_twice_changes_nothing(findings):
    assert fold(fold(findings)) == fold(findings)


@given(some, some)
def test_folding_in_parts_is_folding_at_once(first, second):
    assert fold([*fold(first), *fold(second)]) == fold([*first, *second])


@given(some)
def test_the_order_of_firsts_is_kept(findings):
    seen = list(dict.fromkeys(map(key, findings)))
    assert [key(found) for found in fold(findings)] == seen
