"""The first run after an install: the kernels are compiled once, side by side, and a line says so.

The law: two child processes compile the kernel files and keep their code; where one fails, the check compiles
what is missing itself and nothing is lost but time.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator, Sequence
from importlib import import_module
from pathlib import Path

HOUSES = Path(__file__).resolve().parent.parent
KERNELS = tuple(f"{house}.kernels" for house in ("sim", "parser"))
READING = ("parser.kernels",)
OURS = (__package__ or "proveout.viewer").removesuffix("viewer")


def prepare() -> None:
    """Compile what has never been compiled on this machine, and say that this is done."""
    if compiled_before():
        return
    print("First run here: compiling the cutting kernels for this computer, once (10 to 20 s).",
          file=sys.stderr, flush=True)
    compile_side_by_side()


def prepare_to_read() -> None:
    """The same of the scanner alone, which is all that reading a long program needs."""
    if compiled_before(READING):
        return
    print("First run here: compiling the scanner for this computer, once (some 5 s).", file=sys.stderr,
          flush=True)
    compile_side_by_side(READING)


def compile_side_by_side(folders: Sequence[str] = KERNELS) -> None:
    """Compile the longest kernel file in one process, the others in another, and wait for both: loading the
    compiler once more would cost more than it saves."""
    first, *others = sorted(kernel_modules(folders), key=lambda module: -_file(module).stat().st_size)
    for child in [_compiling(modules) for modules in ([first], others) if modules]:
        child.wait()


def _compiling(modules: Sequence[str]) -> subprocess.Popen[bytes]:
    """A process that compiles some kernel files."""
    lines = [f"from {OURS}{module} import loops; loops.ready()" for module in modules]
    return subprocess.Popen([sys.executable, "-c", "\n".join(["import gc; gc.disable()", *lines])],
                            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def kernel_modules(folders: Sequence[str] = KERNELS) -> Iterator[str]:
    """The kernel files as modules below the distribution: "sim.kernels.sweep", …"""
    for folder in folders:
        for file in sorted((HOUSES / folder.replace(".", "/")).glob("*.py")):
            if file.stem != "__init__":
                yield f"{folder}.{file.stem}"


def _file(module: str) -> Path:
    return HOUSES / f"{module.replace('.', '/')}.py"


def compiled_before(folders: Sequence[str] = KERNELS) -> bool:
    """Whether the code of these very kernels is kept on this machine."""
    return all(import_module(f"{OURS}{module}").loops.is_kept() for module in kernel_modules(folders))
