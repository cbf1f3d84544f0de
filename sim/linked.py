"""What hangs together: things joined by pairs fall into groups.

The law: two things are of one group exactly where a chain of pairs joins them; groups are numbered by their
first thing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def groups(count: int, one: NDArray[np.integer], other: NDArray[np.integer]) -> NDArray[np.intp]:
    """(count,) the number of each thing's group, by the pairs one[k], other[k] that join them."""
    first, before = np.arange(count), None
    while before is None or not np.array_equal(first, before):
        before = first.copy()
        least = np.minimum(before[one], before[other])
        for ends in (one, other, before[one], before[other]):  # the heads too: chains shrink by halves
            np.minimum.at(first, ends, least)
        first = first[first]
    return np.unique(first, return_inverse=True)[1]
