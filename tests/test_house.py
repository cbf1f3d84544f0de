"""The laws of the house: who may import whom, what is packed, who opens files, what every kind needs.

The law: a rule of DEVELOPERS.md that a machine can check is checked here, and is seen to fail.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
HOUSES = ("parser", "sim", "viewer")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", ".ci", "parser", "sim", "viewer",
             "tests", ".git", ".gitignore"}
# for what a job names, and the code of compiled loops; viewer too, for what a person asked for
MAY_OPEN_FILES = {"parser/jobfile.py", "sim/surface_file.py", "sim/memory.py", "parser/compiling/kept.py"}


def modules(*houses: str) -> list[Path]:
    return [p for house in houses for p in sorted((ROOT / house).rglob("*.py"))]


def project() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listed.stdout.split("\n")[:-1]


def test_top_level_holds_only_what_a_person_must_know():
    assert {path.split("/")[0] for path in tracked()} <= TOP_LEVEL


def test_every_folder_with_code_is_packed():
    folders = {p.parent.relative_to(ROOT).as_posix().replace("/", ".") for p in modules(*HOUSES)}
    assert {f"proveout.{folder}" for folder in folders} == set(project()["tool"]["setuptools"]["packages"])


def test_every_data_file_is_packed():
    data = project()["tool"]["setuptools"]["package-data"]
    for path in tracked():
        if path.split("/")[0] in HOUSES and not path.endswith(".py"):
            package = "proveout." + str(Path(path).parent.as_posix()).replace("/", ".")
            assert any(Path(path).match(pattern) for pattern in data.get(package, [])), path


def test_every_module_says_what_it_is():
    silent = [name(p) for p in modules(*HOUSES) if not ast.get_docstring(tree(p)) and p.read_text().strip()]
    assert silent == []
    lawless = [name(p) for p in modules(*HOUSES) if "The law: " not in (ast.get_docstring(tree(p)) or "")
               and not p.stem.startswith("__")]
    assert lawless == []


def test_every_module_has_its_room_in_the_developers_guide():
    """A file is named in full, as `house/name.py` or, behind one of its folder, as `name.py` alone."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = guide.split("## Where does my line go")[1].split("\n## ")[0]
    named, folder = set(), ""
    for path, stem in re.findall(r"((?:[a-z_]+/)*)([a-z_]+)\.py", rooms):
        folder = path or folder
        named.add(f"{folder}{stem}.py")
    code = {name(p) for p in modules(*HOUSES) if not p.stem.startswith("__")}
    assert named == code, (sorted(code - named), sorted(named - code))
    ideas = re.findall(r"^\| ([^|]+?) \|", rooms, re.MULTILINE)
    assert len(ideas) == len(set(ideas)), "an idea has one row"


def contracts(folder: Path) -> subprocess.CompletedProcess:
    """The import contracts, run over the houses as they stand in `folder`/proveout."""
    shutil.copy(ROOT / "pyproject.toml", folder / "pyproject.toml")
    code = "from importlinter.cli import lint_imports_command as run; run()"
    path = os.pathsep.join(filter(None, [str(folder), os.environ.get("PYTHONPATH", "")]))
    return subprocess.run([sys.executable, "-c", code, "--no-cache"], cwd=folder, capture_output=True,
                          text=True, env={**os.environ, "PYTHONPATH": path})


def houses_in(folder: Path) -> Path:
    without = shutil.ignore_patterns("__pycache__")
    for house in HOUSES:
        shutil.copytree(ROOT / house, folder / "proveout" / house, ignore=without)
    return folder


def test_imports_go_down_only(tmp_path):
    seen = contracts(houses_in(tmp_path))
    assert seen.returncode == 0, seen.stdout + seen.stderr


@pytest.mark.parametrize(("where", "forbidden"), [
    ("parser/modes.py", "from ..sim import cut"),
    ("parser/job.py", "from ..viewer import record"),
    ("sim/cut.py", "from ..viewer import record"),
    ("sim/kernels/sweep.py", "from ...parser import motion"),
])
def test_a_forbidden_import_is_seen(tmp_path, where, forbidden):
    broken = houses_in(tmp_path) / "proveout" / where
    broken.write_text(broken.read_text(encoding="utf-8") + f"\n{forbidden}\n", encoding="utf-8")
    seen = contracts(tmp_path)
    assert seen.returncode == 1, seen.stdout + seen.stderr
    assert "BROKEN" in seen.stdout


def imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or "").split(".")[0])
    return found


def test_kernels_see_arrays_and_share_no_file():
    """Kept code belongs to the bytes of one file: a kernel imports no other but what marks its functions."""
    for path in modules("parser/kernels", "sim/kernels"):
        assert imported(path) <= {"__future__", "math", "typing", "numpy", "numba", "llvmlite",
                                  "..compiling", "...parser"}, name(path)


def compiled_entries(path: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef)
            for mark in node.decorator_list
            if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "loops.entry" and mark.args]


def test_few_compiled_entries_with_explicit_signatures():
    entries = [f"{name(p)}:{e.name}" for p in modules(*HOUSES) for e in compiled_entries(p)]
    assert 1 <= len(entries) <= 12, entries


def test_one_room_calls_the_compiler():
    """So that nothing is compiled but what is kept; one file of loops gives it instructions of its own."""
    asking = {name(p) for p in modules(*HOUSES) if {"numba", "llvmlite"} & imported(p)}
    room = "parser/compiling"
    assert asking == {"parser/kernels/lines.py", f"{room}/loops.py", f"{room}/machine_code.py"}


def calls(path: Path) -> set[str]:
    return {ast.unparse(node.func) for node in ast.walk(tree(path)) if isinstance(node, ast.Call)}


def test_nothing_but_the_doors_opens_files_or_prints():
    for path in modules("parser", "sim"):
        called = calls(path)
        assert "print" not in called, name(path)
        if name(path) not in MAY_OPEN_FILES:
            assert "open" not in called, name(path)
            assert not any(call.startswith("Path(") for call in called), name(path)


def raised_kinds() -> set[str]:
    """Every string literal that stands in parser and sim (kinds are always written out), and the kinds of
    conditions.toml."""
    conditions = tomllib.loads((ROOT / "parser/conditions.toml").read_text(encoding="utf-8"))
    return {row["kind"] for row in conditions.values()} | {
        node.value for path in modules("parser", "sim") for node in ast.walk(tree(path))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def test_every_kind_is_raised_somewhere():
    from proveout.parser.finding import registry

    assert set(registry()) - raised_kinds() == set()


def test_every_kind_has_a_page():
    from proveout.parser.finding import registry

    pages = {p.stem for p in (ROOT / "viewer/kinds").glob("*.md")}
    assert set(registry()) <= pages


def test_ci_calls_the_readme_test_command():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    ci = (ROOT / ".ci/run").read_text(encoding="utf-8")
    command = re.search(r"^(\.venv/bin/.*pytest.*)$", readme, re.MULTILINE)
    assert command
    assert "grep -m1 '^\\.venv/bin/.*pytest' README.md" in ci


@pytest.fixture(scope="session")
def wheel_install(tmp_path_factory) -> Path:
    """The wheel, built from a copy of the tracked tree and unpacked into a folder of its own."""
    folder = tmp_path_factory.mktemp("wheel")
    copy = folder / "copy"
    for path in tracked():
        if (ROOT / path).is_file():
            (copy / path).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / path, copy / path)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    subprocess.run([*pip, "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", str(folder), str(copy)],
                   check=True, capture_output=True)
    wheel = next(folder.glob("proveout-*.whl"))
    subprocess.run([*pip, "install", "-q", "--no-deps", "--target", str(folder / "site"), str(wheel)],
                   check=True, capture_output=True)
    return folder / "site"


IN_THE_WHEEL = """
import sys
from importlib.resources import files
import proveout.parser
assert proveout.parser.__file__.startswith(sys.argv[1]), proveout.parser.__file__
from proveout.parser.dialect import load_dialect
from proveout.parser.finding import registry
from lark import Lark
pages = files("proveout.viewer.kinds")
assert all(pages.joinpath(kind + ".md").read_text(encoding="utf-8").strip() for kind in registry())
here = files("proveout.parser.dialects").iterdir()
dialects = [p.name.removesuffix(".toml") for p in here if p.name.endswith(".toml")]
assert len(dialects) >= 3 and all(load_dialect(name) for name in dialects)
grammars = [p for p in files("proveout.parser.grammar").iterdir() if p.name.endswith(".lark")]
assert grammars and all(p.read_text(encoding="utf-8").strip() for p in grammars)
from proveout.parser.source import Source
from proveout.parser.interpreter import read_program
program = Source("a.nc", b"G21 G90\\nG0 Z5\\nG0 X1 Y2\\nM30\\n")
assert len(read_program(program, load_dialect("union")).motion) == 2
from proveout.sim.hardware import head_of
assert head_of("ISO 7380-1 M8").diameter == 14.0
assert files("proveout.viewer.demo").joinpath("face.nc").is_file() or any(
    p.name.endswith(".nc") for p in files("proveout.viewer.demo").iterdir())
print("whole")
"""


def test_the_wheel_is_whole(wheel_install, tmp_path):
    seen = subprocess.run([sys.executable, "-c", IN_THE_WHEEL, str(wheel_install)], cwd=tmp_path, text=True,
                          capture_output=True, env={**os.environ, "PYTHONPATH": str(wheel_install)})
    assert seen.stdout.strip() == "whole", seen.stderr
