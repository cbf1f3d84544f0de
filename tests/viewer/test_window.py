"""The window, driven key by key in a process of its own, and where no window can be."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from proveout.viewer.demo.run import write_files
from proveout.viewer.picture import ways

DRIVER = Path(__file__).with_name("drive_window.py")


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    """What the driver saw, drawn in memory; skipped where this machine has no graphics library at all."""
    folder = tmp_path_factory.mktemp("window")
    write_files(folder)
    for environment in ways(os.environ):
        run = subprocess.run([sys.executable, str(DRIVER), str(folder / "faulty" / "job.toml"), str(folder)],
                             env=environment, cwd=folder, capture_output=True, text=True, timeout=300)
        if run.returncode == 0:
            return json.loads((folder / "seen.json").read_text()) | {"folder": folder}
        if run.returncode > 0:
            pytest.fail(run.stderr)
    pytest.skip("no graphics library here can draw")


def test_every_key_is_on_the_screen_and_does_something(seen):
    assert seen["verdict"] == "DO NOT RUN"
    assert "space  run, hold" in seen["words"]
    assert seen["every key"] == []


def test_steps_and_lines(seen):
    """Two moves on and one back, then to the end of the next line."""
    assert seen["at start"] == 0
    assert seen["after steps"] > 1


def test_a_reason_is_shown_with_its_line(seen):
    words, line = seen["reason"]
    assert words.startswith("1.  Facing cutter meets the head of hold-down screws 3")
    assert line == 119
    assert seen["moved"] > 1


def test_colours_go_round(seen):
    assert seen["recoloured"] > 1
    assert seen["colours again"] < 0.1


def test_layers_sections_and_stretch(seen):
    assert seen["hidden"] == ["screws"]
    assert seen["cut"] == ["y", pytest.approx(64, abs=0.5)]  # the reason's Y60, 1 % of 400 on
    assert seen["stretch"] == 20
    assert not seen["keys shown"]


def test_it_runs_and_is_scrubbed(seen):
    """Twenty seconds at 16 times the speed, from the start since it stood at the end."""
    assert seen["running"] == [True, 0]
    assert seen["after a while"] == pytest.approx(320, abs=5)
    assert seen["scrubbed"][0] == pytest.approx(100, abs=1e-6)
    assert "drill.nc" in seen["scrubbed"][1]


def test_a_click_reads_out_the_board(seen):
    assert "face.nc line" in seen["read"]
    assert "wanted face" in seen["read"]
    assert seen["read beside"] == "no board there"


def test_where_the_eye_is_near_every_cell_is_shown(seen):
    """A patch over the coarse board: it is picked, and cut as the board is."""
    assert seen["close"] == [1, 2]
    assert "wanted face" in seen["read close"]
    assert seen["cut close"] > 1


def test_a_picture_is_saved_beside_where_it_runs(seen):
    assert (seen["folder"] / "proveout-1.png").read_bytes().startswith(b"\x89PNG")


def refusal(environment: dict[str, str], tmp_path) -> str:
    write_files(tmp_path)
    command = [sys.executable, "-m", "proveout.viewer", "view", str(tmp_path / "faulty" / "job.toml")]
    run = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120)
    assert run.returncode == 2
    assert "Traceback" not in run.stderr
    return run.stderr


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere there is always a screen")
def test_without_a_screen_it_says_so(tmp_path):
    bare = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    assert "no screen" in refusal(bare, tmp_path)
    assert "no window can be opened" in refusal({**bare, "DISPLAY": ":987"}, tmp_path)


@pytest.mark.skipif(not (shutil.which("Xvfb") and shutil.which("xdotool")), reason="needs Xvfb and xdotool")
def test_a_real_window_takes_real_keys(tmp_path):
    """A virtual screen, and key presses sent by another process."""
    write_files(tmp_path)
    screen = subprocess.Popen(["Xvfb", "-displayfd", "1", "-screen", "0", "1400x900x24"],
                              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        assert screen.stdout is not None
        environment = {**os.environ, "DISPLAY": f":{screen.stdout.readline().strip()}"}
        command = [sys.executable, "-m", "proveout.viewer", "view", str(tmp_path / "faulty" / "job.toml")]
        window = subprocess.Popen(command, env=environment, cwd=tmp_path, stdout=subprocess.DEVNULL,
                                  stderr=subprocess.PIPE, text=True)

        def tool(*words: str) -> None:
            subprocess.run(["xdotool", *words], env=environment, check=True, timeout=120,
                           stdout=subprocess.DEVNULL)

        tool("search", "--sync", "--name", "proveout: Spoil board")
        for symbol in ("n", "p", "q"):
            tool("key", "--delay", "200", symbol)
        assert window.wait(timeout=120) == 1, window.stderr and window.stderr.read()
        assert (tmp_path / "proveout-1.png").is_file()
    finally:
        screen.kill()
