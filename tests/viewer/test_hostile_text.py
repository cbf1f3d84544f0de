"""Names, comments, paths and options that hold escape codes, marks of reading direction, markup: shown as
text on every screen and in every file.

What steers: control and format characters, categories Cc, Cf, Zl, Zp of the Unicode Character Database, read
through Python's own table.
"""

from __future__ import annotations

import json
import subprocess
import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from proveout.viewer.plain_text import clean, clean_lines, escaped, steerless

from .shop import JOB, PROGRAM, job_in, proveout

EVIL = "\x1b[2J\x1b]0;taken\x07\u202eback\u202c\u2066x\u2069\x9b31m\u200b\ufeff<b onclick=alert(1)>&</script>"
NAMED = "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 0x9B else c for c in EVIL)  # as TOML takes it


def steering(text: str) -> set[str]:
    return {c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp") and c not in "\n\t"}


@pytest.fixture
def shop(tmp_path):
    job = f'title = "{NAMED}"\n' + JOB.replace('name = "face"', f'name = "{NAMED}"').replace(
        'shape = "facing"', f'shape = "facing"\nname = "{NAMED}"') + "face = { z = -0.4 }\n"
    job_in(tmp_path, job, PROGRAM.replace("G1 Z-0.4 F500", f"G1 Z-4 F500 ({EVIL})"))
    return tmp_path


def said(run: subprocess.CompletedProcess[str]) -> str:
    return run.stdout + run.stderr


@pytest.mark.parametrize("words", [
    ("check", "job.toml"), ("check", "job.toml", "--all"), ("check", "job.toml", "--json", "-"),
    ("read", "face.nc"), ("check", EVIL), ("read", EVIL), ("explain", EVIL),
    ("check", "job.toml", "--stage", EVIL), ("check", "face.nc", "--cutter", EVIL),
    ("check", "job.toml", "--picture", "a.png", "--picture-from", EVIL),
    ("check", "job.toml", "--picture", f"{EVIL}/a.png"), (EVIL,), ("view", EVIL)])
def test_no_screen_is_steered(shop, words):
    text = said(proveout(*words, cwd=shop))
    assert text
    assert not steering(text)


def test_a_job_file_that_is_wrong_is_quoted_as_text(shop):
    wrong = f'title = 1\n[board]\nx = [0, "{NAMED}"]\n'
    (shop / "job.toml").write_text(wrong, encoding="utf-8")
    text = said(proveout("check", "job.toml", cwd=shop))
    assert "job.toml:" in text
    assert not steering(text)


def test_no_file_steers_and_the_result_says_the_same(shop):
    proveout("check", "job.toml", "--json", "r.json", "--page", "p.html", "--picture", "p.svg", cwd=shop)
    for name in ("r.json", "p.html", "p.svg"):
        assert not steering((shop / name).read_text(encoding="utf-8")), name
    assert json.loads((shop / "r.json").read_text(encoding="utf-8"))["title"] == EVIL
    for name in ("p.html", "p.svg"):
        assert "<b onclick" not in (shop / name).read_text(encoding="utf-8")


def test_every_such_character_is_known():
    """All of Unicode, one by one."""
    everything = "".join(map(chr, range(sys.maxunicode + 1)))
    assert not steering(steerless(everything))
    assert not steering(clean(everything))


@given(st.text())
def test_what_is_shown_steers_nothing_and_keeps_its_columns(text):
    for act in (clean, clean_lines, steerless):
        assert len(act(text)) == len(text)
        assert not steering(act(text))


@given(st.text())
def test_escapes_in_json_say_the_same(text):
    made = escaped(json.dumps([text], ensure_ascii=False))
    assert not steering(made)
    assert json.loads(made) == [text]
