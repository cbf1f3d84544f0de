"""The examples of the manual, run: each gives the finding that its page explains."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from proveout.parser.jobfile import read_job
from proveout.sim.verify import verify

PAGES = {Path(page.name).stem: page.read_text(encoding="utf-8")
         for page in files("proveout.viewer.kinds").iterdir() if page.name.endswith(".md")}


def block(page: str, language: str) -> str:
    found = re.search(rf"^```{language}\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    return found[1] if found else ""


@pytest.mark.parametrize("kind", sorted(kind for kind, page in PAGES.items() if "```toml" in page))
def test_the_example_of_a_page_gives_its_finding(kind, tmp_path):
    job, text = tmp_path / "job.toml", block(PAGES[kind], "toml")
    job.write_text(text, encoding="utf-8")
    for name in re.findall(r'program = "(.*?)"', text):
        (tmp_path / name).write_text(block(PAGES[kind], "nc"), encoding="utf-8")
    found = verify(read_job(job), threads=1).findings
    assert kind in {each.kind for each in found}
