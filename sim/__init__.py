"""sim: what happens. Motion and Job to Result.

From Python: `from proveout.sim import verify`. Loading the package costs next to nothing; what a check needs
is loaded by the first one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .verify import verify

if TYPE_CHECKING:
    from .knobs import Knobs
    from .result import Result, Verdict

__all__ = ["Knobs", "Result", "Verdict", "verify"]


def __getattr__(name: str) -> Any:
    """One of the names of `__all__`, from the module it lives in."""
    from importlib import import_module
    homes = {"Knobs": "knobs", "Result": "result", "Verdict": "result"}
    if name not in homes:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{homes[name]}", __name__), name)
