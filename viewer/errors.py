"""An input that cannot be used, in one message.

The law: an error of the input names the file and what would be accepted; everything else is a mistake
of ours and is not dressed up as one of the input.
"""

from __future__ import annotations

from pathlib import Path


class Refused(Exception):
    """The command cannot be carried out as asked; the message says why and what would work."""


def input_error(failed: BaseException) -> str | None:
    """The message for a failure that the input or the command line is to blame for, else None."""
    from ..parser.dialect import DialectError
    from ..parser.mistakes import JobError
    from ..parser.source import Unreadable
    if isinstance(failed, Refused | Unreadable | JobError | DialectError):
        return str(failed)
    if isinstance(failed, OSError):
        return os_error(failed)
    if isinstance(failed, MemoryError):
        return "the memory of this computer is not enough; give board.cell a larger value"
    from ..sim.surface import MapTooLarge
    return str(failed) if isinstance(failed, MapTooLarge) else None


def os_error(failed: OSError) -> str:
    """ "face.nc: no such file" from what the system raised."""
    words = {FileNotFoundError: "no such file", IsADirectoryError: "is a directory, not a file",
             PermissionError: "may not be opened", NotADirectoryError: "no such file"}
    why = words.get(type(failed)) or (failed.strerror or str(failed)).lower()
    return f"{failed.filename}: {why}" if failed.filename else why


def place_for(path: str | Path | None, option: str) -> None:
    """Raises Refused when a file cannot be written there: told before the work, not after it."""
    if path is None or str(path) == "-":
        return
    path = Path(path)
    if path.is_dir():
        raise Refused(f"{option} {path}: is a directory; give a file name in it")
    if not path.absolute().parent.is_dir():
        raise Refused(f"{option} {path}: the folder {path.parent} does not exist")
