"""The door through which files come in: a job file to a Job, with every mistake at once.

The law: nothing else in parser or sim opens a file. The bytes and checksums of everything that a job names
are in the Job when it leaves here, and a job with a mistake leaves nothing behind but its JobError.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path as File
from typing import Any

from .bare_job import cutter_of
from .dialect import load_dialect
from .job import Board, Input, Job, Stage
from .jobcheck import validated, without_unknown_keys
from .jobrules import check_rules, matching
from .jobsense import check_sense
from .jobtext import toml_of
from .mistakes import JobError, Mistake, Report
from .recognise import looks_like_program
from .source import Source, Unreadable
from .survey import read_survey
from .toml_places import places_of
from .units import Units

Known = Mapping[str, Callable[[str], object]]
PROGRAMS, SURVEY, SURFACE, DIALECT = "stages.*.program", "board.survey", "board.surface", "machine.dialect"


def read_job(path: str | os.PathLike[str], known: Known | None = None) -> Job:
    """The job that a TOML file describes, in millimetres, with every file that it names.

    `known` looks up names that the job's reader does not know itself, by the keys that use them
    ("fasteners.*.screw": …); a look-up raises ValueError, whose message says what would be found. Raises
    JobError with every mistake of the file, or with the one reason why it cannot be read at all.
    """
    source = _source(File(path), str(path))
    tree = toml_of(source)
    report = Report(source, places_of(source.text))
    written = without_unknown_keys(tree, report)
    job = validated(written, report)
    check_rules(written, report)
    check_sense(written, report)
    files = _named_files(written, File(path).parent, report)
    _measured(written, files, report)
    _look_up(written, {DIALECT: partial(_dialect, files), **(known or {})}, report)
    if job is None or report.mistakes:
        raise report.error()
    return _with_files(job, source, files, given_in(written))


def job_from_program(path: str | os.PathLike[str], cutter: str) -> Job:
    """A job of one program and one cutter ("facing 25.4", "drill 1/4in"), with no job file.

    Its board has no extent until its program is read: see `bare_job.with_swept_board`. Raises JobError
    where the program cannot be opened or the cutter is not said as it should be.
    """
    source = _source(File(path), str(path))
    _lines(source)
    if why_none := looks_like_program(source):
        raise JobError([whole_file(source.name, Unreadable(why_none))])
    tool, units = cutter_of(cutter)
    name = File(path).name
    return Job(board=Board(), cutters=(tool,), stages=(Stage(name=File(path).stem or name, program=name),),
               units=units, sources={File(path).stem or name: source}, files={name: source},
               inputs=(Input(file=name, sha256=source.sha256),), one_cutter=True)


def is_file_name(dialect: str) -> bool:
    """Whether a dialect is given as a file of its own rather than by a shipped name."""
    return dialect.endswith(".toml") or "/" in dialect or "\\" in dialect


def _source(file: File, name: str) -> Source:
    """A file's bytes under the name that a person gave it; raises JobError where there are none to be had."""
    try:
        return _load(file, name)
    except Unreadable as bad:
        raise JobError([whole_file(name, bad)]) from None


def _lines(source: Source) -> None:
    """Raises JobError where a file's bytes are no lines of text."""
    try:
        source.check()
    except Unreadable as bad:
        raise JobError([whole_file(source.name, bad)]) from None


def whole_file(name: str, bad: Unreadable) -> Mistake:
    return Mistake(name, 0, 0, "", str(bad).removeprefix(f"{name}: "))


def _load(file: File, name: str) -> Source:
    """Raises Unreadable where the file cannot be opened or holds nothing."""
    try:
        if file.is_dir():
            raise Unreadable(f"{name}: this is a folder, not a file")
        if not file.exists():
            raise Unreadable(f"{name}: there is no such file")
        if not file.is_file():
            raise Unreadable(f"{name}: this is a device, not a file")
        data = file.read_bytes()
    except (OSError, ValueError) as bad:
        raise Unreadable(f"{name}: this cannot be opened: {getattr(bad, 'strerror', None) or bad}") from None
    if not data:
        raise Unreadable(f"{name}: the file is empty")
    return Source(name, data)


def _named_files(tree: Mapping[str, Any], folder: File, report: Report) -> dict[str, Source]:
    """Every file that a job names, by that name; what cannot be read is a mistake at its key."""
    loaded: dict[str, Source] = {}
    for pattern in (PROGRAMS, SURVEY, SURFACE, DIALECT):
        for path, name in matching(tree, pattern):
            if not isinstance(name, str) or not name or (pattern == DIALECT and not is_file_name(name)):
                continue
            try:
                loaded.setdefault(name, _load(folder / name, name))
                _ = pattern == SURFACE or loaded[name].check()
            except Unreadable as bad:
                report.value(path, str(bad), f"files are looked for in {folder.resolve()}")
                continue
            if pattern == PROGRAMS and (why_none := looks_like_program(loaded[name])):
                report.value(path, why_none, "name a G-code program")
    return loaded


def _measured(tree: Mapping[str, Any], files: Mapping[str, Source], report: Report) -> None:
    """A survey whose lines are no measured places is a mistake at its key."""
    for path, name in matching(tree, SURVEY):
        if isinstance(name, str) and name in files:
            try:
                read_survey(files[name], Units.INCH if tree.get("units") == "inch" else Units.MM)
            except Unreadable as bad:
                found, _, accepted = str(bad).partition("; ")
                report.value(path, found, accepted)


def files_named_in(path: str | os.PathLike[str]) -> tuple[File, ...]:
    """Where the files of a job file are looked for, there or not; none where it cannot be read."""
    try:
        tree = toml_of(_source(File(path), str(path)))
    except JobError:
        return ()
    named = [name for pattern in (PROGRAMS, SURVEY, SURFACE, DIALECT) for _, name in matching(tree, pattern)
             if isinstance(name, str) and name and (pattern != DIALECT or is_file_name(name))]
    return tuple(File(path).parent / name for name in dict.fromkeys(named))


def _look_up(tree: Mapping[str, Any], known: Known, report: Report) -> None:
    for pattern, look_up in known.items():
        for path, name in matching(tree, pattern):
            try:
                _ = look_up(name) if isinstance(name, str) and name else None
            except ValueError as bad:
                found, _, accepted = str(bad).partition("; ")
                report.value(path, found, accepted)


def _dialect(files: Mapping[str, Source], name: str) -> None:
    """Raises DialectError for a dialect that is not shipped, or a file that is none."""
    if not is_file_name(name):
        load_dialect(name)
    elif name in files:
        load_dialect(files[name].text, name=name)


def _with_files(job: Job, source: Source, files: Mapping[str, Source], given: frozenset[str]) -> Job:
    inputs = [Input(file=File(source.name).name, sha256=source.sha256)]
    inputs += [Input(file=name, sha256=each.sha256) for name, each in files.items()]
    return replace(job, sources={s.name: files[s.program] for s in job.stages}, inputs=tuple(inputs),
                   given=given, text=source, files=files)


def given_in(value: Any, path: str = "") -> frozenset[str]:
    """The dotted path of every key in a TOML tree; lists count from 0."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {path} - {""}
    for key, each in inside:
        found |= given_in(each, f"{path}.{key}" if path else str(key))
    return frozenset(found)
