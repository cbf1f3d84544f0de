"""A progress bar for people, with the time left for what is being done: it comes after a second, on a
terminal, and leaves nothing behind.

The law: with standard error not a terminal nothing is drawn. What is being done is told by the one who
does it, through the callable that `bar()` hands out.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[str, float], None]
PATIENCE = 1.0  # s before a bar appears


@contextmanager
def bar(what: str) -> Iterator[Tell]:
    """A callable (what, part from 0 to 1) that draws a bar when the work lasts longer than a second."""
    if not sys.stderr.isatty():
        yield lambda what, part: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    progress = Progress(TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn(),
                        console=Console(stderr=True), transient=True)
    task = progress.add_task(what, total=None)
    timer = threading.Timer(PATIENCE, progress.start)
    timer.daemon = True
    timer.start()

    def tell(doing: str, part: float) -> None:
        if doing != progress.tasks[0].description:  # how long the last thing took says nothing of this one
            progress.reset(task, total=None, description=doing)
        progress.update(task, total=1.0 if part > 0 else None, completed=min(max(part, 0.0), 1.0))

    try:
        yield tell
    finally:
        timer.cancel()
        progress.stop()
