"""proveout from Python: three names, quick to import, nothing printed, results that can be pickled."""

from __future__ import annotations

import pickle
import subprocess
import sys
from typing import get_type_hints

import pytest
from proveout.parser import JobError, Source, load_dialect, read_job, read_program
from proveout.sim import Result, Verdict, verify

IMPORTS = """
import sys
import proveout.parser
from proveout.sim import verify
heavy = {"numba", "scipy", "shapely", "numpy", "pyvista", "pydantic", "lark"} & set(sys.modules)
assert not heavy, heavy
from proveout.parser import read_job, read_program
heavy = {"numba", "scipy", "pyvista"} & set(sys.modules)
assert not heavy, heavy
import proveout.sim.verify
from proveout.sim import verify as again
assert again is verify and callable(verify)
"""


def small(folder, screw="ISO 7380-1 M6"):
    (folder / "face.nc").write_text("G21 G90 G17 G94 G54\nS12500 M3\nG0 Z20\nG0 X-20 Y10\nG1 Z-0.4 F500\n"
                                    "G1 X120 F2000\nG0 Z20\nM5\nM30\n")
    (folder / "job.toml").write_text(
        '[board]\nmaterial = "MDF"\nx = [0, 100]\ny = [0, 20]\nthickness = 18\ncell = 1\n'
        '[[cutters]]\nnumber = 1\nshape = "facing"\ndiameter = 25.4\nedges = 2\n'
        f'[[fasteners]]\nname = "screws"\nscrew = "{screw}"\nat = [[50, 10]]\nseat = -8\n'
        f'recess = {{ diameter = 14, depth = 8 }}\n'
        '[[stages]]\nname = "face"\nprogram = "face.nc"\nstart = [0, 0, 30]\n')
    return folder / "job.toml"


def test_importing_is_quick_and_the_function_is_no_module():
    """What is loaded is what counts here, not the clock: nothing heavy before it is needed."""
    seen = subprocess.run([sys.executable, "-c", IMPORTS], capture_output=True, text=True)
    assert seen.returncode == 0, seen.stderr


def test_a_job_from_file_to_verdict(tmp_path, capsys):
    result = verify(read_job(small(tmp_path)))
    assert isinstance(result, Result)
    assert isinstance(result.verdict, Verdict)
    assert [stage.name for stage in result.stages] == ["face"]
    again = pickle.loads(pickle.dumps(result))
    assert again.findings == result.findings
    assert again.stages == result.stages
    assert (again.surface.heights == result.surface.heights).all()
    assert capsys.readouterr() == ("", "")


def test_nothing_stays_behind(tmp_path):
    """Two checks of one job are the same, whatever was checked between them."""
    job = read_job(small(tmp_path))
    first = verify(job)
    (tmp_path / "other").mkdir()
    verify(read_job(small(tmp_path / "other", screw="ISO 7380-1 M5")))
    second = verify(job)
    assert (first.findings, first.stages) == (second.findings, second.stages)
    assert first.unchecked == second.unchecked


def test_a_screw_that_no_table_has_is_told_at_its_key(tmp_path):
    with pytest.raises(JobError, match=r"fasteners\[1\].screw: .*the nearest is"):
        verify(read_job(small(tmp_path, screw="ISO 7380-1 M66")))


def test_a_program_alone():
    reading = read_program(Source("a.nc", b"G21 G90\nG0 Z5\nG1 X10 F600\nM30\n"), load_dialect("standard"))
    assert len(reading.motion) == 2
    assert len(pickle.loads(pickle.dumps(reading)).motion) == 2


def test_a_name_that_is_none():
    import proveout.parser
    import proveout.sim
    for package in (proveout.parser, proveout.sim):
        with pytest.raises(AttributeError, match="no_such_name"):
            _ = package.no_such_name


def test_everything_is_typed():
    for function in (read_job, read_program):
        assert "return" in get_type_hints(function)
    assert verify.__annotations__["return"] == "Result"
