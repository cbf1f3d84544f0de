"""The first run: kernels are compiled once, side by side, and one line says so."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from proveout.viewer import first_run


def test_the_first_run_compiles_and_says_so_once(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(first_run, "compile_side_by_side", lambda: None)
    assert not first_run.compiled_before()
    first_run.prepare()
    assert "compiling" in capsys.readouterr().err
    assert first_run.compiled_before()
    first_run.prepare()
    assert capsys.readouterr().err == ""


def test_another_version_of_a_kernel_is_compiled_again(tmp_path, monkeypatch):
    """One changed byte of one file is enough."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    kernel = tmp_path / "sweep.py"
    kernel.write_text("one")
    monkeypatch.setattr(first_run, "kernel_files", lambda: iter([("sim.kernels", kernel)]))
    first_run.remember()
    assert first_run.compiled_before()
    kernel.write_text("two")
    assert not first_run.compiled_before()


def test_a_folder_that_takes_nothing_costs_nothing(tmp_path, monkeypatch, capsys):
    """A file stands where the folder would be: nobody can write there, the superuser neither."""
    (tmp_path / "cache").write_text("in the way")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(first_run, "compile_side_by_side", lambda: None)
    first_run.prepare()
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
