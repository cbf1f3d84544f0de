"""A dialect is data: every key answered, every condition weighed, a slip named."""

import re
from importlib.resources import files

import pytest
from proveout.parser.conditions import CONDITIONS
from proveout.parser.dialect import BASE, DialectError, load_dialect, shipped
from proveout.parser.dialect_keys import KEYS
from proveout.parser.finding import Severity


@pytest.mark.parametrize("name", shipped())
def test_every_shipped_dialect_answers_every_key(name):
    dialect = load_dialect(name)
    assert dialect.name == name
    assert dialect.title
    assert dialect.values.keys() == KEYS.keys()
    assert dialect.conditions.keys() == load_dialect(BASE).conditions.keys()
    for key, others in dialect.alternatives.items():
        assert dialect[key] not in others
        assert all(KEYS[key].takes(other) for other in others)


def test_what_must_ship():
    assert set(shipped()) == {"report", "standard", "forgiving", "union", "labelled", "usermacro", "compact",
                              "tape"}


def test_the_report_and_its_strict_and_forgiving_readings_leave_nothing_open():
    for name in ("report", "standard", "forgiving"):
        assert not load_dialect(name).alternatives


def test_every_condition_is_raised_by_something():
    """One that nothing raises would be a promise that nobody keeps."""
    text = "".join(file.read_text(encoding="utf-8") for file in files("proveout.parser").iterdir()
                   if file.name.endswith(".py"))
    unset = {f"{what}-unset" for what in ("units", "distance", "system", "feed-mode", "plane", "return")}
    raised = {name for name in CONDITIONS if f'"{name}"' in text} | unset
    assert set(CONDITIONS) - raised == set()
    weighed = {CONDITIONS[name].weigh or name for name in raised}
    known = set(load_dialect(BASE).conditions)
    assert {name for name in known - weighed if f'"{name}"' not in text} == set()  # slips of a line's form


def test_every_key_is_read_by_something():
    """A key that nothing reads would be an answer that nobody heard."""
    houses = ("proveout.parser", "proveout.sim", "proveout.sim.checks")
    text = "".join(file.read_text(encoding="utf-8") for house in houses for file in files(house).iterdir()
                   if file.name.endswith(".py") and file.name != "dialect_keys.py")
    assert {key for key in KEYS if f'"{key}"' not in text} == set()


def test_no_condition_is_weighed_that_nothing_raises_or_reads():
    """Every condition that the parser names is one of the report's."""
    parser = files("proveout.parser")
    named = set()
    for file in parser.iterdir():
        if file.name.endswith(".py"):
            text = file.read_text(encoding="utf-8")
            named |= set(re.findall(r'condition="([a-z0-9-]+)"', text))
            named |= set(re.findall(r'Slip\(\s*"([a-z0-9-]+)"', text))
            named |= set(re.findall(r'BadValue\("([a-z0-9-]+)"', text))
    assert len(named) > 15
    assert named - {"unread"} <= load_dialect(BASE).conditions.keys()


def test_a_persons_own_dialect_in_three_lines():
    text = 'inherits = "standard"\narc.centre_default = "abs"\nconditions.letter-twice = "off"\n'
    own = load_dialect(text, name="own")
    assert own.name == "own"
    assert own["arc.centre_default"] == "abs"
    assert own["rapid.path"] == load_dialect("standard")["rapid.path"]
    assert own.severity("letter-twice") is None
    assert own.severity("two-codes-of-group") is Severity.STOP


def test_either_is_read_first_and_kept_as_alternatives():
    own = load_dialect('inherits = "standard"\n[home]\naxes = { either = ["all", "named"] }\n')
    assert own["home.axes"] == "all"
    assert own.alternatives == {"home.axes": ("named",)}
    settled = own.with_values({"home.axes": "named"})
    assert settled["home.axes"] == "named"
    assert not settled.alternatives
    assert own["home.axes"] == "all"


def test_settling_a_key_confirms_it():
    own = load_dialect('inherits = "union"\nhome.axes = "all"\n')
    assert "home.axes" not in own.alternatives
    assert "cycle.g98_level" in own.alternatives


@pytest.mark.parametrize(("text", "said"), [
    ("nonsense", '"nonsense"'), ("standart", "is standard meant?"),
    ('inherits = "standard"\narc.centre_defolt = "abs"\n', "is arc.centre_default meant?"),
    ('inherits = "standard"\narc.centre_default = "up"\n', '"inc" or "abs"'),
    ('inherits = "standard"\ntool.t_changes = 1\n', "true or false"),
    ('inherits = "standard"\nlex.n_max = true\n', "a whole number"),
    ('inherits = "standard"\nconditions.letter-twise = "off"\n', "is letter-twice meant?"),
    ('inherits = "standard"\nconditions.letter-twice = "maybe"\n', "note, caution, stop"),
    ('inherits = "standard"\nconditions = 3\n', "a table"),
    ('inherits = "standard"\nspeed = 3\n', "no key"),
    ('inherits = "standard"\nhome.axes = { either = [] }\n', "a list of values"),
    ('inherits = "nobody"\n', "nobody"), ("title = 'x'\n", "inherits is missing"),
    ("inherits = 3\n", "a text in quotes"), ("inherits = \n", "line 1"),
])
def test_one_clear_error(text, said):
    with pytest.raises(DialectError) as bad:
        load_dialect(text, name="own.toml")
    assert said in str(bad.value)
    assert "\n" not in str(bad.value)


def test_a_bad_value_is_refused_in_with_values_too():
    with pytest.raises(DialectError):
        load_dialect("union").with_values({"home.axes": "some"})


def test_what_a_control_takes():
    assert load_dialect("report").takes("G81")
    assert not load_dialect("report").takes("G73")
    assert load_dialect("standard").takes("G73")
    assert load_dialect("union").takes("M107")
