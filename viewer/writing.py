"""Files that a person asked to have written.

The law: a file is wholly there or not there at all, and nobody ever sees half of it; "-" is standard output.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path


def write_text(destination: str, text: str) -> None:
    """Write UTF-8 text in one step; "-" is standard output. Raises OSError when it cannot be written."""
    write_parts(destination, (text,))


def write_parts(destination: str, parts: Iterable[str]) -> None:
    """The same for a text that comes in parts, for one that is longer than memory should hold."""
    if destination != "-":
        _write_whole(Path(destination), (part.encode("utf-8") for part in parts))
        return
    for part in parts:
        sys.stdout.write(part)
    sys.stdout.flush()


def write_bytes(path: Path, data: bytes) -> None:
    """Write a whole file in one step. Raises OSError when it cannot be written."""
    _write_whole(path, (data,))


def _write_whole(path: Path, parts: Iterable[bytes]) -> None:
    """Write a file beside its place, then put it there, so that nobody ever sees half of it."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.writelines(parts)
        os.chmod(beside, 0o666 & ~_umask())
        os.replace(beside, path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def _umask() -> int:
    """What the system keeps from new files; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
