"""What a person knows of the machine and says on the command line: values of numbered parameters.

The law: a value is a plain number, and what is none is refused with what would be accepted.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from .errors import Refused

VALUE = re.compile(r"\s*#?\s*(\d{1,8})\s*=\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*")


def parameters(said: Iterable[str]) -> dict[int, float]:
    """ "#500=3" as a number and its value. Raises Refused."""
    values = {}
    for each in said:
        found = VALUE.fullmatch(each)
        if found is None or int(found[1]) == 0:
            raise Refused(f'--set {each}: write a parameter\'s number and its value, for example "#500=3"')
        values[int(found[1])] = float(found[2])
    return values
