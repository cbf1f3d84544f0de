"""sim: what happens. Motion and Job to Result.

From Python: `from proveout.sim import verify`. Loading the package costs next to nothing; what a check needs
is loaded by the first one.
"""

from .verify import verify

__all__ = ["verify"]
