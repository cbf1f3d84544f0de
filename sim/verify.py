"""The whole story, in order: `verify(job) -> Result`.

The law: it opens nothing, prints nothing and decides nothing by itself. Stages run one after the
other on the same board; a check sees its stage's Evidence and no more; the same job gives the same
Result, bit for bit, on any number of threads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..parser.job import Job
    from .bench import Progress
    from .knobs import Knobs
    from .result import Result


def verify(job: Job, *, threads: int | None = None, progress: Progress | None = None,
           knobs: Knobs | None = None) -> Result:
    """Run every stage of a job on one board, in order, and check it.

    `threads`: how many cut at once (None: as many as there are cores) · `progress(what, part)` is told what
    is being done and how much of it is (0 to 1) · `knobs`: how far the operator may turn feed and spindle
    speed. Nothing is kept between two calls; a Result can be pickled. Raises MapTooLarge where the map does
    not fit the memory, and JobError where the job and its programs cannot go together (a change at a stop
    that no program reaches).
    """
    from .bench import Bench  # heavy: loaded with the first check, not with the package
    from .knobs import Knobs

    bench = Bench.set_up(job, threads=threads, progress=progress or silence, knobs=knobs or Knobs())
    for number in range(len(job.stages)):
        evidence = bench.run(bench.begin(number), bench.read())
        bench.judge(evidence)
        bench.judge_other_readings(evidence)
    return bench.result()


def silence(what: str, part: float) -> None:
    """The progress of a check that nobody watches."""
