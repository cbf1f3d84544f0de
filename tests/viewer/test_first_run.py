"""The first run: kernels are compiled once, side by side, and one line says so."""

from __future__ import annotations

from pathlib import Path

from proveout.parser.compiling import kept
from proveout.parser.kernels import lines
from proveout.viewer import first_run


def nothing_kept(tmp_path, monkeypatch) -> Path:
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(first_run, "kernel_modules", lambda folders: iter(["parser.kernels.lines"]))
    return tmp_path / "cache"


def test_the_first_run_compiles_and_says_so_once(tmp_path, monkeypatch, capsys):
    """With the code of one file taken from where it is, in place of seconds of compiling."""
    lines.loops.ready()
    made = kept.take(lines.loops.file)
    assert made
    nothing_kept(tmp_path, monkeypatch)
    monkeypatch.setattr(first_run, "compile_side_by_side", lambda: kept.keep(lines.loops.file, made))
    assert not first_run.compiled_before()
    first_run.prepare()
    assert "compiling" in capsys.readouterr().err
    assert first_run.compiled_before()
    first_run.prepare()
    assert capsys.readouterr().err == ""


def test_reading_compiles_the_scanner_alone_and_says_so_once(tmp_path, monkeypatch, capsys):
    lines.loops.ready()
    made = kept.take(lines.loops.file)
    assert made
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    folders = []
    monkeypatch.setattr(first_run, "compile_side_by_side",
                        lambda wanted: (folders.append(wanted), kept.keep(lines.loops.file, made)))
    first_run.prepare_to_read()
    assert capsys.readouterr().err.count("\n") == 1
    first_run.prepare_to_read()
    assert capsys.readouterr().err == ""
    assert folders == [("parser.kernels",)]


def test_a_folder_that_takes_nothing_costs_nothing(tmp_path, monkeypatch):
    """A file stands where the folder would be: nobody can write there, the superuser neither."""
    nothing_kept(tmp_path, monkeypatch).write_text("in the way")
    monkeypatch.setattr(first_run, "compile_side_by_side",
                        lambda: kept.keep(lines.loops.file, kept.Taken((), b"code")))
    first_run.prepare()
    assert not first_run.compiled_before()


def test_every_kernel_file_is_among_those_compiled():
    """Each file that marks loops is compiled, and nothing else stands in those folders."""
    modules = set(map(first_run._file, first_run.kernel_modules()))
    houses = [first_run.HOUSES / house for house in ("sim", "parser", "viewer")]
    files = [path for house in houses for path in house.rglob("*.py")]
    marking = {path for path in files if "= Loops(__file__" in path.read_text("utf-8")}
    assert len(marking) == 3
    assert marking == modules


def test_a_child_that_fails_costs_nothing(monkeypatch, tmp_path):
    monkeypatch.setattr(first_run, "HOUSES", tmp_path)
    (tmp_path / "of_no_kind.py").write_text("")
    monkeypatch.setattr(first_run, "kernel_modules", lambda folders: iter(["of_no_kind"]))
    first_run.compile_side_by_side()
