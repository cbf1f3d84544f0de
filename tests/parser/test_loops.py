"""Compiled loops: kept as machine code, called with what they are handed, the same as the compiler's own."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from proveout.parser.compiling import kept
from proveout.parser.compiling.loops import Loops
from proveout.parser.compiling.machine_code import Unfit, bound, emitted
from proveout.parser.kernels import lines

LOOPS = '''"""Two small loops."""
from math import cos
from proveout.parser.compiling.loops import Loops

loops = Loops(__file__, globals())


@loops.helper()
def turned(x):
    return cos(x) if x > 1.0 else x / 3.0


@loops.entry("i8(f8[:,::1], f8[::1], b1, i8)")
def rows(table, sums, twice, first):
    for row in range(first, table.shape[0]):
        sums[row] = 0.0
        for column in range(table.shape[1]):
            sums[row] += turned(table[row, column]) * (2.0 if twice else 1.0)
    return table.shape[0] - first


@loops.entry("UniTuple(i8, 2)(Array(u1, 1, 'C', True), i4[::1])")
def ends(text, out):
    out[0] = text[0]
    return len(text), text[len(text) - 1]
'''


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A file of loops of its own, as a module, its code kept beside it."""
    folder = tmp_path_factory.mktemp("loops")
    (folder / "small.py").write_text(LOOPS)
    return folder / "small.py"


def loaded(path) -> dict:
    names = {"__file__": str(path), "__name__": path.stem}
    exec(compile(path.read_text(), str(path), "exec"), names)
    return names


def test_a_loop_gives_what_the_same_python_gives(written):
    """The same function, run by Python itself."""
    table = np.linspace(-4, 9, 35).reshape(7, 5)
    for names in (loaded(written), loaded(written)):  # compiled, then taken from where it was kept
        sums, plain = np.full(7, -1.0), np.full(7, -1.0)
        assert names["rows"](table, sums, True, 2) == names["rows"].function(table, plain, True, 2) == 5
        assert sums.tolist() == plain.tolist()
        out = np.zeros(1, np.int32)
        assert names["ends"](np.frombuffer(b"G0 X1\n", np.uint8), out) == (6, 10)
        assert out[0] == ord("G")


def test_a_later_process_needs_no_compiler(written):
    """It finds the code beside the file, and loads neither numba nor scipy."""
    loaded(written)["loops"].ready()
    code = ("import sys, numpy, small; print(small.rows(numpy.zeros((3, 2)), numpy.zeros(3), False, 1), "
            "{'numba', 'scipy'} & set(sys.modules))")
    paths = [str(written.parent), *sys.path]
    seen = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                          env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)})
    assert seen.stdout == "2 set()\n"


@pytest.mark.parametrize("wrong", [
    np.zeros((3, 2), np.float32), np.zeros(3), np.zeros((3, 4))[:, ::2], np.zeros((2, 3)).T,
    np.frombuffer(bytes(49), np.uint8)[1:].view(np.float64).reshape(3, 2)])
def test_an_array_that_a_loop_would_misread_is_refused(written, wrong):
    """Another type, fewer axes, with gaps, column by column, between two addresses."""
    with pytest.raises(TypeError, match="rows was handed"):
        loaded(written)["rows"](wrong, np.zeros(3), False, 0)


def test_an_array_that_must_not_be_written_on_is_refused(written):
    sums = np.zeros(3)
    sums.flags.writeable = False
    with pytest.raises(TypeError, match="written on"):
        loaded(written)["rows"](np.zeros((3, 2)), sums, False, 0)


def test_one_argument_too_few_is_refused(written):
    with pytest.raises(ValueError, match="argument"):
        loaded(written)["rows"](np.zeros((3, 2)), np.zeros(3), False)


def test_one_changed_byte_of_the_file_is_compiled_again(written, tmp_path):
    loaded(written)["loops"].ready()
    changed = tmp_path / "small.py"
    changed.write_text(LOOPS)
    assert Loops(str(written), {}).is_kept()
    assert not Loops(str(changed), {}).is_kept() or os.environ.get("NUMBA_CACHE_DIR")
    changed.write_text(LOOPS.replace("x / 3.0", "x / 4.0"))
    assert not Loops(str(changed), {}).is_kept()


def test_code_that_is_not_whole_is_not_taken(tmp_path, monkeypatch):
    lines.loops.ready()
    made = kept.take(lines.loops.file)
    assert made
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))
    kept.keep(lines.loops.file, made)
    assert kept.take(lines.loops.file) == made
    path = kept.kept(lines.loops.file)
    assert path
    for broken in (path.read_bytes()[:-1], b"", b"{}\n", b"\xff\xfe\n\n", b"[1]\nx"):
        path.write_bytes(broken)
        assert kept.take(lines.loops.file) is None


def test_code_that_needs_what_is_not_here_is_not_bound():
    lines.loops.ready()
    made = kept.take(lines.loops.file)
    assert made
    entries = [replace(each, library=("a_function_that_nobody_has",)) for each in made.entries]
    assert bound(made.code, entries) is None
    assert bound(made.code, made.entries)


def test_loops_that_cannot_be_called_this_way_are_said_to_be():
    """A complex number, a list of another order: the compiler's own call serves these."""
    import numba
    for signature in ("i8(c16)", "i8(f8[::1, :])", "f8(f8)"):
        function = numba.njit(signature, no_cpython_wrapper=True, no_cfunc_wrapper=True)(lambda x: 1)
        with pytest.raises(Unfit):
            emitted([("one", function)])


def test_where_code_cannot_be_kept_the_compiler_is_asked(written, monkeypatch):
    """Somebody set an option of the compiler: it serves, with its own checks and its own cache."""
    monkeypatch.setenv("NUMBA_OPT", "1")
    names = loaded(written)
    sums = np.zeros(3)
    assert names["rows"](np.ones((3, 2)), sums, False, 0) == 3
    assert sums.tolist() == [2 / 3] * 3
    assert hasattr(names["rows"].call, "signatures")


def test_an_unwritable_folder_uses_the_users_cache_folder(tmp_path):
    """A file where the folder's cache would be keeps everyone from writing there, the superuser too."""
    installed, home = tmp_path / "installed", tmp_path / "home"
    installed.mkdir()
    home.mkdir()
    (installed / "small.py").write_text(LOOPS)
    (installed / "__pycache__").write_text("in the way")
    others = {name: value for name, value in os.environ.items()
              if name not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")}
    python = [sys.executable, "-B", "-c", "import small; small.loops.ready(); assert small.loops.is_kept()"]
    environment = {**others, "HOME": str(home), "PYTHONPATH": os.pathsep.join(sys.path)}
    subprocess.run(python, cwd=installed, env=environment, check=True)
    assert len(list(home.rglob("small-*.loops"))) == 1
    assert (installed / "__pycache__").read_text() == "in the way"
