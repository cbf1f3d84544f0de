"""parser: what is written. Program text to Motion, job file to Job.

From Python: `from proveout.parser import read_job, read_program`. Loading the package costs next to nothing;
what a name needs is loaded when it is first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .dialect import load_dialect
    from .interpreter import read_program
    from .jobfile import job_from_program, read_job
    from .mistakes import JobError
    from .reading import Setting
    from .source import Source

__all__ = ["JobError", "Setting", "Source", "job_from_program", "load_dialect", "read_job", "read_program"]

HOMES = {"JobError": "mistakes", "Setting": "reading", "Source": "source", "job_from_program": "jobfile",
         "load_dialect": "dialect", "read_job": "jobfile", "read_program": "interpreter"}


def __getattr__(name: str) -> Any:
    """One of the names of `__all__`, from the module it lives in."""
    if name not in HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{HOMES[name]}", __name__), name)
