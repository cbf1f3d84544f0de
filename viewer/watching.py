"""`proveout check JOB --watch`: again whenever a file of the job changes.

The law: what counts is the bytes. A file that is touched or half written starts nothing; a job that cannot be
read is told as ever and looked at again when one of its files changes. Ctrl-C ends it, with the last status.
"""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from .asked import Asked
from .checking import Outputs, check_jobs
from .errors import input_error
from .plain_text import clean, clean_lines

PAUSE = 0.4  # s between two looks

Sums = dict[Path, str]


def keep_checking(paths: Sequence[Path], asked: Asked, outputs: Outputs,
                  sleep: Callable[[float], None] = time.sleep) -> int:
    """Check, wait for a change, check again; the exit status is that of the last check."""
    status = 0
    try:
        while True:
            files = watched(paths)
            sums = sums_of(files)
            status = once(paths, asked, outputs)
            print(f"\nWatching {len(files)} files; Ctrl-C ends it.", file=sys.stderr, flush=True)
            changed = wait_for_change(paths, sums, sleep)
            names = clean(", ".join(sorted(changed)))
            print(f"\n{time.strftime('%H:%M:%S')} changed: {names}\n", file=sys.stderr)
    except KeyboardInterrupt:
        print("proveout: watching ended", file=sys.stderr)
        return status


def once(paths: Sequence[Path], asked: Asked, outputs: Outputs) -> int:
    """One check; an input that cannot be used is told and is status 2."""
    try:
        return check_jobs(paths, asked, outputs)
    except Exception as failed:
        said = input_error(failed)
        if said is None:
            raise
        print(f"proveout: {clean_lines(said)}", file=sys.stderr)
        return 2
    finally:
        sys.stdout.flush()


def watched(paths: Iterable[Path]) -> tuple[Path, ...]:
    """The jobs and every file that they name, whether it is there or not."""
    from ..parser.jobfile import files_named_in
    return tuple(dict.fromkeys(file for path in paths for file in (path, *files_named_in(path))))


def wait_for_change(paths: Sequence[Path], sums: Sums, sleep: Callable[[float], None]) -> list[str]:
    """Names of the files whose bytes are others than in `sums`, once they have come to rest."""
    looks = {file: look(file) for file in sums}
    while True:
        sleep(PAUSE)
        seen = {file: look(file) for file in watched(paths)}
        if seen == looks:
            continue
        looks = seen
        now = sums_of(seen)
        changed = [file for file in {**sums, **now} if sums.get(file) != now.get(file)]
        if changed and settled(looks, sleep):
            return [file.name for file in changed]


def settled(looks: dict[Path, tuple[int, int] | None], sleep: Callable[[float], None]) -> bool:
    """Whether nothing changes any more: an editor may still be writing."""
    while True:
        sleep(PAUSE / 4)
        now = {file: look(file) for file in looks}
        if now == looks:
            return True
        looks = now


def look(file: Path) -> tuple[int, int] | None:
    """When it was written last and how long it is; None where it is not there."""
    try:
        seen = file.stat()
    except OSError:
        return None
    return seen.st_mtime_ns, seen.st_size


def sums_of(files: Iterable[Path]) -> Sums:
    """The checksum of each file, "" where it cannot be read."""
    found = {}
    for file in files:
        try:
            found[file] = hashlib.sha256(file.read_bytes()).hexdigest()
        except OSError:
            found[file] = ""
    return found
