"""Compiled loops: kept from run to run, also where the folder of the installed package cannot be written."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import proveout.parser.kernels.lines as kernels  # the file that compiles soonest

ENTRIES = {"run_rows", "scan_lines"}


def test_an_unwritable_folder_uses_the_users_cache_folder(tmp_path):
    """A file where the folder's cache would be keeps everyone from writing there, the superuser too."""
    installed, home = tmp_path / "installed", tmp_path / "home"
    installed.mkdir()
    home.mkdir()
    shutil.copy(Path(kernels.__file__), installed / "lines.py")
    (installed / "__pycache__").write_text("in the way")
    homes = {name: str(home) for name in ("HOME", "XDG_CACHE_HOME", "LOCALAPPDATA", "USERPROFILE")}
    others = {name: value for name, value in os.environ.items() if name != "NUMBA_CACHE_DIR"}
    python = [sys.executable, "-B", "-c", "import lines"]
    subprocess.run(python, cwd=installed, env={**others, **homes}, check=True)
    kept = {path.name.split(".")[1].rsplit("-", 1)[0] for path in home.rglob("*.nbi")}
    assert kept == ENTRIES
    assert (installed / "__pycache__").read_text() == "in the way"
