"""`proveout view`: a job in, its report on the terminal and a window to look at it.

The law: the exit status is that of a check. A window that cannot be opened is a sentence, found out in a
child process before anything is computed, never a crash.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from .asked import Asked
from .checking import check_one, show_report, status
from .errors import Refused

PATIENCE = 60  # s for finding out whether a window opens
INSTEAD = "`proveout check JOB --page report.html` shows the same in a browser"
PROBE = """
import sys, pyvista
plotter = pyvista.Plotter(window_size=[64, 64])
plotter.add_mesh(pyvista.Plane())
plotter.show(interactive=False, auto_close=False)
if sys.platform.startswith("linux") and not plotter.render_window.GetMapped():
    sys.exit("the screen that DISPLAY names does not answer")
"""


def view_job(path: Path, cutter: str | None = None, stage: str | None = None) -> int:
    """Check a job, say what was found, and show it until the window is closed. Raises Refused."""
    can_open()
    result = check_one(path, Asked(cutter, stage))
    show_report(result)
    from .window import open_window
    open_window(result)
    return status(result)


def can_open() -> None:
    """Raises Refused where no window can be opened here: a missing library would kill the process."""
    linux = sys.platform.startswith("linux")
    if linux and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        raise Refused("no window can be opened: this session has no screen (neither DISPLAY nor "
                      f"WAYLAND_DISPLAY is set). {INSTEAD}")
    try:
        seen = subprocess.run([sys.executable, "-c", PROBE], capture_output=True, text=True, timeout=PATIENCE,
                              errors="replace", stdin=subprocess.DEVNULL)
    except subprocess.TimeoutExpired:
        raise Refused(f"no window opened within {PATIENCE} s. {INSTEAD}") from None
    if seen.returncode:
        last = (seen.stderr.strip().splitlines() or ["it died without a word"])[-1][:200]
        one_line = " On Debian, where libraries are missing: sudo apt install libgl1." if linux else ""
        raise Refused(f"no window can be opened here ({last}).{one_line} {INSTEAD}")
