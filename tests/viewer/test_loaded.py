"""What a command loads: libraries that are slow to load are left alone by those who do not need them."""

from __future__ import annotations

import subprocess
import sys

import pytest
from proveout.viewer.demo.run import write_files

SEEN = """
import sys
from proveout.viewer import cli
sys.argv = ["proveout", *sys.argv[1:]]
try:
    cli.main()
except SystemExit:
    pass
print("loaded:", *{name.split(".")[0] for name in sys.modules} | set(sys.modules), file=sys.stderr)
"""
PICTURES = {"pyvista", "vtkmodules", "matplotlib", "PIL", "jinja2"}
SCIENCE = {"numba", "scipy"}
CLUSTER = {"dask", "distributed", "tornado", "multiprocessing"}
JOBS = {"shapely", "proveout.parser.job", "proveout.sim.bench", "proveout.sim.kernels.sweep"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The folder of the demo's corrected job, checked once: its kernels are compiled."""
    folder = tmp_path_factory.mktemp("demo")
    write_files(folder)
    subprocess.run([sys.executable, "-m", "proveout.viewer", "check", "job.toml"], cwd=folder / "corrected",
                   capture_output=True)
    return folder / "corrected"


@pytest.mark.parametrize(("command", "alone"), [
    (["check", "job.toml"], PICTURES | SCIENCE | CLUSTER),
    (["check", "job.toml", "--all"], PICTURES | SCIENCE | CLUSTER),
    (["check", "job.toml", "--json", "-"], PICTURES | SCIENCE | CLUSTER),
    (["read", "face.nc"], PICTURES | SCIENCE | CLUSTER | JOBS),
    (["explain", "head-strike"], PICTURES | SCIENCE | CLUSTER | JOBS | {"numpy", "lark"}),
    (["explain"], PICTURES | SCIENCE | CLUSTER | JOBS | {"numpy", "lark"}),
    (["--version"], PICTURES | SCIENCE | CLUSTER | JOBS | {"numpy", "lark", "rich"}),
    (["--help"], PICTURES | SCIENCE | CLUSTER | JOBS | {"numpy", "lark", "pydantic"}),
    (["check", "--help"], PICTURES | SCIENCE | CLUSTER | JOBS | {"numpy", "lark"}),
], ids=lambda words: " ".join(words) if isinstance(words, list) else "")
def test_a_command_leaves_alone_what_it_does_not_need(demo, command, alone):
    seen = subprocess.run([sys.executable, "-c", SEEN, *command], cwd=demo, text=True, capture_output=True)
    loaded = seen.stderr.rpartition("loaded:")[2].split()
    assert "proveout.viewer.cli" in loaded, seen.stderr
    assert set(loaded) & alone == set()
