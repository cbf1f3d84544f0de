"""A large map in bands: what is said of it depends neither on how it is divided nor on the threads."""

from __future__ import annotations

import threading

import pytest
from proveout.parser.jobfile import read_job
from proveout.sim import bands
from proveout.sim.fitting import KNOWN
from proveout.sim.verify import verify
from proveout.viewer.demo.run import write_files
from proveout.viewer.record import as_json, record


@pytest.mark.parametrize(("shape", "cells"), [((1, 1), 10), ((7, 3), 6), ((100, 30), 1), ((24, 5), 1000)])
def test_bands_are_the_map_row_by_row(monkeypatch, shape, cells):
    monkeypatch.setattr(bands, "CELLS", cells)
    rows = [row for band in bands.bands_of(shape) for row in range(band.start, band.stop)]
    assert rows == list(range(shape[0]))


@pytest.mark.parametrize("threads", [1, 2, 5, None])
def test_answers_come_in_the_order_of_the_bands(threads):
    """Though the first one waits for a later one, where there are threads to wait."""
    many, later = threads != 1, threading.Event()

    def work(band: slice) -> int:
        if many and band.start == 0:
            assert later.wait(20)
        elif band.start >= 2:
            later.set()
        return band.start

    parts = [slice(k, k + 1) for k in range(9)]
    assert list(bands.over(parts, work, threads if threads is not None else 2)) == list(range(9))


def test_a_check_says_the_same_on_any_number_of_threads_and_bands(tmp_path, monkeypatch):
    """The demo's faulty job: ridges, depths, levels, what is left uncut, facings left."""
    write_files(tmp_path)
    job, said = read_job(tmp_path / "faulty" / "job.toml", KNOWN), []
    for cells, threads in ((2_000_000, 1), (2_000_000, 2), (30_000, 1), (30_000, 3)):
        monkeypatch.setattr(bands, "CELLS", cells)
        said.append(as_json(record(verify(job, threads=threads))))
    assert len(set(said)) == 1
