"""Whatever a program holds, `proveout read` says something of it and ends: no crash, no endless screen."""

import json
import random

import pytest
from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.source import Unreadable
from proveout.viewer.layout import plain
from proveout.viewer.moves_table import moves_table
from proveout.viewer.program_report import program_record, read_one
from proveout.viewer.program_rows import report
from proveout.viewer.record import as_json

from ..bench.bench_fuzz import mutated

SCREEN = 60  # lines at 80 columns, three findings with a long line and advice each


@pytest.mark.parametrize("seed", range(8))
def test_changed_programs_are_read_and_told(seed, tmp_path):
    """Fifty real-looking programs each, changed, cut and repeated; the bench takes many more."""
    for number in range(50 * seed, 50 * (seed + 1)):
        dice = random.Random(-1 - number)
        path = tmp_path / f"{number}.nc"
        path.write_bytes(mutated(dice))
        dialect = load_dialect(dice.choice(("union", *shipped())))
        try:
            read = read_one(path, dialect)
        except Unreadable as why:
            assert str(path) in str(why)  # noqa: PT017 - most programs are readable
            continue
        said = plain(report(read), 80)
        assert 3 <= len(said.splitlines()) <= SCREEN
        assert json.loads(as_json(program_record(read)))["program"] == str(path)
        if read.reading is not None:
            rows = "".join(moves_table([("a", read.reading.motion)])).splitlines()
            assert len(rows) == len(read.reading.motion) + 1
