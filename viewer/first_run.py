"""The first run after an install: the kernels are compiled once, side by side, and a line says so.

The law: a child process for each kernel file fills the compiler's cache; where one fails, the check
compiles that file itself and nothing is lost but time.
"""

from __future__ import annotations

import hashlib
import os
import platform
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path

HOUSES = Path(__file__).resolve().parent.parent
KERNELS = tuple(f"{house}.kernels" for house in ("sim", "parser"))


def prepare() -> None:
    """Compile what has never been compiled on this machine, and say that this is done."""
    if compiled_before():
        return
    print("First run here: compiling the cutting kernels for this computer, once (10 to 20 s).",
          file=sys.stderr, flush=True)
    compile_side_by_side()
    remember()


def compile_side_by_side() -> None:
    """Import every kernel file in a process of its own, all at once, and wait for them."""
    package = (__package__ or "proveout.viewer").removesuffix("viewer")
    children = [subprocess.Popen([sys.executable, "-c", f"import gc; gc.disable(); import {package}{module}"],
                                 stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                 stderr=subprocess.DEVNULL)
                for module in kernel_modules()]
    for child in children:
        child.wait()


def kernel_files() -> Iterator[tuple[str, Path]]:
    """The folder of each kernel file, as a module, and the file."""
    for folder in KERNELS:
        for file in sorted((HOUSES / folder.replace(".", "/")).glob("*.py")):
            if file.stem != "__init__":
                yield folder, file


def kernel_modules() -> Iterator[str]:
    """The kernel files as modules below the distribution: "sim.kernels.sweep", …"""
    return (f"{folder}.{file.stem}" for folder, file in kernel_files())


def compiled_before() -> bool:
    """Whether these very kernels have been compiled on this machine, by this compiler."""
    return any((folder / _mark()).is_file() for folder in _caches())


def remember() -> None:
    """Leave a mark beside what was compiled; where no folder takes it, the next run looks again."""
    for folder in _caches():
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            (folder / _mark()).touch()
            return


def _mark() -> str:
    """A file name that changes with the kernels, the compiler and the language."""
    said = hashlib.sha256(f"{version('numba')} {sys.version_info[:2]} {platform.machine()}".encode())
    for _, file in kernel_files():
        said.update(file.read_bytes())
    return f"proveout-{said.hexdigest()[:16]}.compiled"


def _caches() -> Iterator[Path]:
    if given := os.environ.get("NUMBA_CACHE_DIR"):
        yield Path(given)
        return
    for folder in KERNELS:
        yield HOUSES / folder.replace(".", "/") / "__pycache__"
    with suppress(RuntimeError):
        home = Path.home()
        yield from (home / ".cache" / "numba", home / "Library" / "Caches" / "numba",
                    home / "AppData" / "Local" / "numba")
