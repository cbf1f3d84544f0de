"""The first run after an install: the kernels are compiled once, side by side, and a line says so.

The law: a child process for each kernel file compiles it and keeps its code; where one fails, the check
compiles that file itself and nothing is lost but time.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

HOUSES = Path(__file__).resolve().parent.parent
KERNELS = tuple(f"{house}.kernels" for house in ("sim", "parser"))
OURS = (__package__ or "proveout.viewer").removesuffix("viewer")


def prepare() -> None:
    """Compile what has never been compiled on this machine, and say that this is done."""
    if compiled_before():
        return
    print("First run here: compiling the cutting kernels for this computer, once (10 to 20 s).",
          file=sys.stderr, flush=True)
    compile_side_by_side()


def compile_side_by_side() -> None:
    """Compile every kernel file in a process of its own, all at once, and wait for them."""
    children = [subprocess.Popen([sys.executable, "-c", "import gc; gc.disable(); "
                                  f"from {OURS}{module} import loops; loops.ready()"],
                                 stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                                 stderr=subprocess.DEVNULL)
                for module in kernel_modules()]
    for child in children:
        child.wait()


def kernel_modules() -> Iterator[str]:
    """The kernel files as modules below the distribution: "sim.kernels.sweep", …"""
    for folder in KERNELS:
        for file in sorted((HOUSES / folder.replace(".", "/")).glob("*.py")):
            if file.stem != "__init__":
                yield f"{folder}.{file.stem}"


def compiled_before() -> bool:
    """Whether the code of these very kernels is kept on this machine."""
    return all(import_module(f"{OURS}{module}").loops.is_kept() for module in kernel_modules())
