"""`proveout check JOB --against RESULT`: whether an old result still holds for today's files.

The law: a result holds for the bytes it was made from, for what it was told besides (knobs, values, the
stage) and for the version that made it, and for nothing else. Exit status: 0 it holds and gave no reason to
stop, 1 it holds and gave one, or it holds no longer; 2 a file could not be used.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .asked import Asked
from .checking import show_rows
from .errors import Refused
from .layout import Row
from .record import FORMAT, settings_of

if TYPE_CHECKING:
    from ..parser.job import Job

SETTINGS = {"override": "--override", "spindle_override": "--spindle-override", "set": "--set",
            "number": "--number", "steps": "--steps", "cutter": "--cutter"}
SHORT = 16  # digits of a checksum that are shown


@dataclass(frozen=True)
class Held:
    """An old result beside today's files: `changed` (file, then, now), `new` and `gone` files, `told`
    (option, then, now) what it was told otherwise, the version that made it and the one that is here."""

    title: str
    verdict: str
    same: tuple[str, ...]
    changed: tuple[tuple[str, str, str], ...]
    new: tuple[str, ...]
    gone: tuple[str, ...]
    made_by: str
    here: str
    told: tuple[tuple[str, str, str], ...] = ()

    @property
    def holds(self) -> bool:
        return not (self.changed or self.new or self.gone or self.told) and self.made_by == self.here

    @property
    def status(self) -> int:
        return int(not self.holds or self.verdict == "stop")


def hold_against(paths: Sequence[Path], result: Path, asked: Asked) -> int:
    """Compare every job with its old result, say what is not as it was; the exit status (0 or 1)."""
    old = old_result(result)
    held = [(path, held_against(old_of(old, path, result, len(paths)), path, asked)) for path in paths]
    for number, (path, each) in enumerate(held):
        show_rows([*([Row()] if number else []), *rows(each, path, result)])
    return max(each.status for _, each in held)


def old_result(path: Path) -> Mapping[str, Any]:
    """The content of a result file. Raises Refused for anything else, OSError where it cannot be opened."""
    try:
        old = json.loads(path.read_bytes())
    except ValueError as bad:
        raise Refused(f"{path}: is no result file ({bad}); check --json FILE writes one") from None
    if not isinstance(old, Mapping) or not ({"inputs", "jobs"} & set(old)):
        raise Refused(f"{path}: is no result file: it names no inputs; check --json FILE writes one")
    if old.get("format") != FORMAT:
        raise Refused(f"{path}: is of format {old.get('format')}; this proveout reads format {FORMAT}")
    return old


def old_of(old: Mapping[str, Any], path: Path, result: Path, count: int) -> Mapping[str, Any]:
    """The part of a result file that is about a job: the whole of it, or one of many. Raises Refused."""
    if "jobs" not in old:
        if count > 1:
            raise Refused(f"{result}: is the result of one job; name that job alone")
        return old
    for each in old["jobs"]:
        if each.get("result") and Path(each["job"]).resolve() == path.resolve():
            return each["result"]
    raise Refused(f"{result}: holds no result of {path}; check it again with --json")


def held_against(old: Mapping[str, Any], path: Path, asked: Asked) -> Held:
    """Today's files of a job beside an old result. Raises what reading the job raises, and Refused."""
    try:
        then = {each["file"]: each["sha256"] for each in old["inputs"]}
    except (KeyError, TypeError):
        raise Refused("the result file does not say which inputs it was made from") from None
    job = asked.load(path)
    now = {each.file: each.sha256 for each in job.inputs}
    both = [file for file in now if file in then]
    return Held(
        title=str(old.get("title") or path), verdict=str(old.get("verdict")),
        same=tuple(file for file in both if now[file] == then[file]),
        changed=tuple((file, then[file], now[file]) for file in both if now[file] != then[file]),
        new=tuple(file for file in now if file not in then),
        gone=tuple(file for file in then if file not in now),
        made_by=str(old.get("version") or "an older version"), here=version("proveout"),
        told=tuple(told_otherwise(old, job, asked)))


def told_otherwise(old: Mapping[str, Any], job: Job, asked: Asked) -> Iterator[tuple[str, str, str]]:
    """(option, what it was, what it is) of everything besides the files that a check is told otherwise."""
    settings = old.get("settings")
    then = settings if isinstance(settings, Mapping) else {}
    now = settings_of(job, asked.knobs())
    for name, words in SETTINGS.items():
        was, is_ = then.get(name), now[name]
        if (was or None) != (is_ or None):
            yield words, said(was), said(is_)
    stages = [each.get("name") for each in old.get("stages", ()) if isinstance(each, Mapping)]
    wanted = [stage.name for stage in job.stages] if asked.stage is None else [asked.stage]
    if stages and stages != wanted:
        yield "--stage", ", ".join(map(str, stages)), ", ".join(wanted)


def said(setting: Any) -> str:
    """A setting as a person writes it: "50:150", "#500=3"."""
    if isinstance(setting, Mapping):
        return ", ".join(f"{name}={value:g}" for name, value in setting.items()) or "not given"
    if isinstance(setting, list):
        return ":".join(f"{each:g}" for each in setting)
    return "not given" if setting is None else str(setting)


def rows(held: Held, path: Path, result: Path) -> Iterator[Row]:
    """What there is to say about it."""
    from ..sim.result import Verdict
    from .terminal import VERDICTS
    said = next((VERDICTS[each] for each in Verdict if each.value == held.verdict), "no verdict")
    yield Row("STILL HOLDS" if held.holds else "HOLDS NO LONGER", held.title,
              "" if held.holds else "stop", one_line=True)
    yield Row("", f"{result}: {said}, made by proveout {held.made_by}")
    for file in held.same:
        yield Row("same", file, "quiet")
    for file, then, now in held.changed:
        yield Row("CHANGED", f"{file}: sha256 was {then[:SHORT]}, is {now[:SHORT]}")
    for file in held.new:
        yield Row("NEW", f"{file}: the job did not name it then")
    for file in held.gone:
        yield Row("GONE", f"{file}: the job names it no more")
    for option, then, now in held.told:
        yield Row("TOLD", f"{option}: was {then}, is {now}")
    if held.made_by != held.here:
        yield Row("VERSION", f"this is proveout {held.here}: it may check what that one did not")
    if held.holds:
        yield Row("", "Files and settings are the same and so is the verdict. The machine was not looked at: "
                      "whether it stands as the job file says is for you to see.")
    else:
        yield Row("do", f"Check again: proveout check {path} --json {result}")
