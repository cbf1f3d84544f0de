"""Which jobs a command line means: a file stands for itself, a folder for every job file below it.

The law: a TOML file that speaks of stages is a job file; nothing is read but that.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from .errors import Refused


def jobs_in(paths: Iterable[Path]) -> list[Path]:
    """The jobs that are meant: a folder stands for every job file below it. Refused where it has none."""
    found: dict[Path, None] = {}
    for path in paths:
        inside = [path] if not path.is_dir() else sorted(filter(is_job_file, path.rglob("*.toml")))
        if not inside:
            raise Refused(f"{path}: there is no job file in this folder or below it")
        found.update(dict.fromkeys(inside))
    return list(found)


def is_job_file(path: Path) -> bool:
    """Whether a TOML file speaks of stages, as a job file does and a dialect does not."""
    try:
        return b"[[stages]]" in path.read_bytes()
    except OSError:
        return False


def the_job(path: Path) -> Path:
    """The one job that is meant. Refused where a folder has several."""
    jobs = jobs_in([path])
    if len(jobs) > 1:
        raise Refused(f"{path}: there are {len(jobs)} job files in this folder or below it; name one, for "
                      f"example {jobs[0]}")
    return jobs[0]
