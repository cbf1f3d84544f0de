"""The first run: kernels are compiled once, side by side, and one line says so."""

from __future__ import annotations

import os
from importlib import import_module
from pathlib import Path

from proveout.viewer import first_run


def test_the_first_run_compiles_and_says_so_once(tmp_path, monkeypatch, capsys):
    """A child that only leaves the compiler's index stands for one that compiles."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    monkeypatch.setattr(first_run, "compile_side_by_side", lambda: leave_indexes(tmp_path))
    assert not first_run.compiled_before()
    first_run.prepare()
    assert "compiling" in capsys.readouterr().err
    assert first_run.compiled_before()
    first_run.prepare()
    assert capsys.readouterr().err == ""


def leave_indexes(folder):
    for _, file in first_run.kernel_files():
        (folder / f"{file.stem}.carve-1.py311.nbi").write_bytes(b"")


def test_a_newer_install_is_compiled_again(tmp_path, monkeypatch):
    """One file that is newer than what was compiled from it is enough."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    leave_indexes(tmp_path)
    assert first_run.compiled_before()
    older = min(file.stat().st_mtime for _, file in first_run.kernel_files()) - 1
    os.utime(next(tmp_path.glob("sweep.*.nbi")), (older, older))
    assert not first_run.compiled_before()


def test_every_kernel_file_is_among_those_compiled():
    """Each is a module that can be imported, and each folder that holds compiled entries is looked into."""
    modules = list(first_run.kernel_modules())
    files = {Path(import_module(f"proveout.{module}").__file__).resolve() for module in modules}
    jitted = {path.resolve() for house in ("sim", "parser", "viewer")
              for path in (first_run.HOUSES / house).rglob("*.py") if "njit(" in path.read_text("utf-8")}
    assert jitted
    assert jitted <= files


def test_a_child_that_fails_costs_nothing(monkeypatch):
    monkeypatch.setattr(first_run, "kernel_modules", lambda: iter(["sim.kernels.of_no_kind"]))
    first_run.compile_side_by_side()
