"""The door through which files come in: a job file to a Job, with every mistake at once.

The law: nothing else in parser or sim opens a file. The bytes and checksums of everything that a job names
are in the Job when it leaves here, and a job with a mistake leaves nothing behind but its JobError.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path as File
from typing import Any

from pydantic import TypeAdapter

from .job import Input, Job
from .source import Source, Unreadable

JOB = TypeAdapter(Job)


def read_job(path: str | os.PathLike[str]) -> Job:
    """The job that a TOML file describes, in millimetres, with every file that it names."""
    source = load(File(path), str(path))
    tree = tomllib.loads(source.text)
    context = {"inch": tree.get("units") == "inch"}
    job = JOB.validate_python(tree, context=context)
    files = {s.program: load(File(path).parent / s.program, s.program) for s in job.stages}
    loaded = {"sources": {s.name: files[s.program] for s in job.stages}, "text": source, "files": files,
              "inputs": tuple(Input(file=File(s.name).name, sha256=s.sha256) for s in (source, *files.values())),
              "given": given_in(tree)}
    return JOB.validate_python({**tree, **loaded}, context=context)


def load(file: File, name: str) -> Source:
    """A file's bytes under the name that a person gave it."""
    if not file.is_file():
        raise Unreadable(f"{name}: {'this is a folder' if file.is_dir() else 'no such file'}")
    return Source(name, file.read_bytes())


def given_in(value: Any, path: str = "") -> frozenset[str]:
    """The dotted path of every key in a TOML tree; lists count from 0."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {path} - {""}
    for key, each in inside:
        found |= given_in(each, f"{path}.{key}" if path else str(key))
    return frozenset(found)
