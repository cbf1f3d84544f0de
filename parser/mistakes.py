"""What is wrong with a job file, said to the person who wrote it: where, what was found, what would do.

The law: all mistakes of a job come at once, in the file's order, each with its line, its key path and what
would be accepted. A key path is shown counting from 1: cutters[2] is the second one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from .job import Job
from .source import Source
from .toml_places import KeyPlace, Path, Places, Span, places_of


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake. `line` and `column` count from 1 (0: the file as a whole); `quote`: the line, a caret."""

    file: str
    line: int
    column: int
    key_path: str
    found: str
    accepted: str = ""
    quote: str = ""

    @property
    def message(self) -> str:
        """What was found and what would be accepted, without the place."""
        said = f"{self.found}; {self.accepted}" if self.accepted else self.found
        return f"{self.key_path}: {said}" if self.key_path else said

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        quote = "".join(f"\n    {line}" for line in self.quote.split("\n")) if self.quote else ""
        return f"{place}: {self.message}{quote}"


class JobError(Exception):
    """A job that cannot be used. `mistakes` are all there are, in the file's order; str() prints them."""

    def __init__(self, mistakes: Iterable[Mistake]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__(self.mistakes)

    def __str__(self) -> str:
        return "\n".join(str(mistake) for mistake in self.mistakes)


class Report:
    """Collects the mistakes of one job file while it is read."""

    def __init__(self, source: Source, places: Places) -> None:
        self.source = source
        self.places = places
        self.mistakes: list[Mistake] = []
        self._told: set[Path] = set()

    def key(self, path: Path, found: str, accepted: str = "") -> None:
        """A mistake at a key itself: it should not be there, or not so named."""
        place = self.places.nearest(path)
        self._add(path, place and place.key, found, accepted)

    def value(self, path: Path, found: str, accepted: str = "") -> None:
        """A mistake in a key's value; of a key that is missing, at the table that lacks it. Of one value the
        first mistake counts: what follows from it would only confuse."""
        if path in self._told:
            return
        self._told.add(path)
        place = self.places.nearest(path)
        self._add(path, place and place.value, found, accepted)

    def found(self, path: Path) -> str:
        """The value at `path` as it is written: "found -25.4"."""
        place: KeyPlace | None = self.places.get(path)
        text = " ".join(place.text.split()) if place else ""
        if not text:
            return "found a table"
        return f"found {text if len(text) <= 40 else text[:37] + '…'}"

    def error(self) -> JobError:
        """All mistakes, in the file's order."""
        return JobError(sorted(dict.fromkeys(self.mistakes), key=lambda m: (m.line, m.column)))

    def _add(self, path: Path, span: Span | None, found: str, accepted: str) -> None:
        line, column, quote = 1, 1, ""
        if span is not None:
            line, column = span.line, span.column
            quote = self.source.quote(line, column, span.end)
        self.mistakes.append(Mistake(self.source.name, line, column, shown(path), found, accepted, quote))


def mistake_in(job: Job, path: Path, found: str, accepted: str = "") -> JobError:
    """The error for a job that was read well but cannot be used as it says; `path` is the key to blame."""
    source = job.text or Source("job", b"")
    report = Report(source, places_of(source.text if source.data else ""))
    report.value(path, found, accepted)
    return JobError(report.mistakes)


def shown(path: Path) -> str:
    """A key path as a person reads it: ("cutters", 1, "core") is "cutters[2].core"."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def nearest(name: str, names: Collection[str], likeness: float = 0.55) -> str | None:
    """The name that was probably meant, None where none is so much like it (1: the same); letters that only
    changed places come first."""
    folded = {each.casefold(): each for each in names}
    swapped = [each for each in folded if sorted(each) == sorted(name.casefold())]
    if swapped:
        return folded[swapped[0]]
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=likeness)
    return folded[close[0]] if close else None


def meant(name: str, names: Collection[str], none: str) -> str:
    """What to write instead of `name`: the nearest one, else all there are, else `none`."""
    close = nearest(name, names)
    if close is not None:
        return f'did you mean "{close}"?'
    return f"give one of: {', '.join(names)}" if names else none
