"""The progress bar: only for a person at a terminal, only when it takes long, and gone at the end."""

from __future__ import annotations

import io
import re
import time

from proveout.viewer import bar as module
from proveout.viewer.bar import bar


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


def draw(monkeypatch, stream, lasting: float, patience: float) -> str:
    monkeypatch.setattr("sys.stderr", stream)
    monkeypatch.setattr(module, "PATIENCE", patience)
    monkeypatch.setenv("TERM", "xterm")
    with bar("Checking job.toml") as tell:
        for step in range(10):
            tell("face: cutting", step / 10)
            time.sleep(lasting / 10)
    return stream.getvalue()


def test_long_work_is_shown_on_a_terminal(monkeypatch):
    shown = draw(monkeypatch, Screen(), lasting=0.5, patience=0.1)
    assert "face: cutting" in shown
    assert re.search(r"\d:\d\d:\d\d", shown)  # what is left of it


def test_short_work_shows_nothing(monkeypatch):
    assert draw(monkeypatch, Screen(), lasting=0.01, patience=30.0).strip() == ""


def test_a_pipe_gets_nothing(monkeypatch):
    assert draw(monkeypatch, io.StringIO(), lasting=0.2, patience=0.0) == ""
