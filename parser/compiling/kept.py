"""Where the machine code of compiled loops is kept from run to run, and whatever else is made once.

The law: code is taken only if it was made from these very bytes of the file, by this compiler, for this
processor, and is whole (its checksum); it is written in one step. The folder of the installed package is
asked first, then the user's own cache; where none can be written on, nothing is kept and nothing fails.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from .machine_code import Convention, processor

FORMAT = 1
# the compiler's own settings: who makes any others gets what the compiler makes of them
INDIFFERENT = {"NUMBA_CACHE_DIR", "NUMBA_NUM_THREADS"}


@dataclass(frozen=True)
class Taken:
    """The loops of a file, and their code."""

    entries: tuple[Convention, ...]
    code: bytes


def can_be_kept() -> bool:
    """Whether code can be called here without the compiler that made it."""
    set_here = {name for name in os.environ if name.startswith("NUMBA_")} - INDIFFERENT
    return sys.platform in ("linux", "darwin") and not set_here


def kept(file: Path) -> Path | None:
    """Where the code of a file of loops is kept; None where it is not."""
    name = _name(file)
    return next((each for folder in folders(file) if (each := folder / name).is_file()), None)


def take(file: Path) -> Taken | None:
    """The code of a file of loops that was kept; None where there is none, or it is not whole."""
    name = _name(file)
    return next((taken for folder in folders(file) if (taken := _read(folder / name))), None)


def _read(path: Path) -> Taken | None:
    with suppress(OSError, ValueError, KeyError, TypeError):
        head, _, code = path.read_bytes().partition(b"\n")
        told = json.loads(head)
        if told["checksum"] == hashlib.sha256(code).hexdigest():
            return Taken(tuple(Convention.of_data(each) for each in told["entries"]), code)
    return None


def keep(file: Path, made: Taken) -> None:
    """Write the code down in the first folder that takes it."""
    head = {"checksum": hashlib.sha256(made.code).hexdigest(), "entries": [e.as_data() for e in made.entries]}
    whole = json.dumps(head).encode() + b"\n" + made.code
    for folder in folders(file):
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            _write(folder / _name(file), whole)
            return


def _write(path: Path, whole: bytes) -> None:
    """In one step: another process sees all of it or nothing."""
    beside = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        beside.write_bytes(whole)
        os.replace(beside, path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


@contextmanager
def made_once(file: Path, name: str) -> Iterator[Path | None]:
    """Where something is kept that `name` wholly determines, beside a file's compiled self or in the user's
    cache: what is there, or a place that becomes it, in one step, once it is written. None: nowhere."""
    there = next((each for folder in folders(file) if (each := folder / name).is_file()), None)
    folder = None if there else next(filter(_takes, folders(file)), None)
    beside = folder / f"{name}.{os.getpid()}" if folder else there
    yield beside
    if folder and beside and beside.is_file():
        with suppress(OSError):
            os.replace(beside, folder / name)


def _takes(folder: Path) -> bool:
    """Whether files can be written into a folder, which is made if need be."""
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        return os.access(folder, os.W_OK)
    return False


def folders(file: Path) -> Iterator[Path]:
    """Where the code of a file may be kept, the best first."""
    if given := os.environ.get("NUMBA_CACHE_DIR"):
        yield Path(given)
        return
    yield file.parent / "__pycache__"
    with suppress(RuntimeError):
        yield _of_the_user() / "proveout"


def _of_the_user() -> Path:
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")


def _name(file: Path) -> str:
    """A file name that changes with the loops, with how they are called, with compiler and processor."""
    said = hashlib.sha256(f"{FORMAT} {_compiler()} {processor()}".encode())
    said.update(file.read_bytes())
    return f"{file.stem}-{said.hexdigest()[:20]}.loops"


@cache
def _compiler() -> str:
    """The compiler's version, without loading it."""
    spec = find_spec("numba")
    path = Path(spec.origin).with_name("_version.py") if spec and spec.origin else Path()
    with suppress(OSError):
        return hashlib.sha256(path.read_bytes()).hexdigest()
    return ""
