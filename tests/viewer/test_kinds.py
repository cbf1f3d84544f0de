"""The manual: one page for each finding kind, whose example is a job that really gives that finding."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from proveout.parser.finding import registry
from proveout.parser.jobfile import read_job

PAGES = {Path(page.name).stem: page.read_text(encoding="utf-8")
         for page in files("proveout.viewer.kinds").iterdir() if page.name.endswith(".md")}
KINDS = sorted(PAGES)
PROMISES = re.compile(r"\b(safe|safely|secure|guarante\w+|harmless|no danger|nothing can happen)\b", re.I)


def block(kind: str, language: str) -> str | None:
    found = re.search(rf"^```{language}\n(.*?)^```$", PAGES[kind], re.MULTILINE | re.DOTALL)
    return found and found[1]


def example(kind: str, folder: Path) -> Path:
    """The page's example written out as the files that it stands for."""
    job = folder / "job.toml"
    text = block(kind, "toml") or ""
    job.write_text(text, encoding="utf-8")
    for name in re.findall(r'program = "(.*?)"', text):
        (folder / name).write_text(block(kind, "nc") or "", encoding="utf-8")
    return job


def test_every_kind_has_its_page_and_every_page_its_kind():
    assert set(PAGES) == set(registry())


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_says_what_it_means_why_it_matters_and_what_to_do(kind):
    page = PAGES[kind]
    assert page.startswith(f"# {kind} ({registry()[kind].severity.word})\n\n")
    marks = ["**At the machine:**", "**What to do:**", "**Example:**", "```nc\n"]
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)
    assert page.count("```") == 2 * (1 + ("```toml\n" in page))


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_is_short_and_promises_nothing(kind):
    page = PAGES[kind]
    assert page.count("\n") <= 32
    assert all(len(line) <= 100 for line in page.split("```")[0].splitlines())
    assert not PROMISES.search(page)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if block(kind, "toml")])
def test_an_examples_job_file_can_be_read(kind, tmp_path):
    job = read_job(example(kind, tmp_path))
    assert job.stages[0].name in job.sources
