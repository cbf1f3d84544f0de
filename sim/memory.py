"""How much memory a new map may have.

The law: what the system keeps of files in memory that nobody uses counts as free, since it gives it away
when it is asked for; a system that says nothing has half of what it has at all.
"""

from __future__ import annotations

import os
from pathlib import Path

FALLBACK_MEMORY = 4 << 30
MEMINFO = "/proc/meminfo"


def available_memory() -> int:
    """Bytes of memory that a new map may have: what the system would hand out without swapping, what it only
    keeps of files among it; where it does not say, half of what there is."""
    try:
        return _linux_available()
    except (OSError, ValueError, StopIteration):
        pass
    try:
        return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2
    except (AttributeError, ValueError, OSError):
        return _available_on_windows()


def _linux_available(path: str = MEMINFO) -> int:
    """MemAvailable (proc_meminfo(5)): free memory and what could be freed."""
    lines = Path(path).read_text(encoding="ascii").splitlines()
    return 1024 * next(int(line.split()[1]) for line in lines if line.startswith("MemAvailable:"))


def _available_on_windows() -> int:
    import ctypes

    class Status(ctypes.Structure):
        _fields_ = (("length", ctypes.c_uint32), ("load", ctypes.c_uint32),
                    *((name, ctypes.c_uint64) for name in ("total", "free", "c", "d", "e", "f", "g")))

    status = Status()
    status.length = ctypes.sizeof(Status)
    try:
        ctypes.windll.kernel32.GlobalMemoryStatusEx(ctypes.byref(status))  # type: ignore[attr-defined]
    except AttributeError:
        return FALLBACK_MEMORY
    return int(status.free) or FALLBACK_MEMORY
