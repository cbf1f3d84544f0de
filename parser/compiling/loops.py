"""Compiled loops: a file's functions, compiled once for this computer, and how they are called.

The law: a file of loops loads without the compiler. Its machine code is taken from where it was kept; only
where none is kept are all its functions compiled, and their code is kept. Where code cannot be kept that way
(another calling convention, another system, the compiler's own settings), the compiler is asked as ever.
Either way it is the same code: a loop gives the same numbers, bit for bit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Lock
from typing import Any

from .kept import Taken, can_be_kept, keep, kept, take
from .machine_code import Unfit, bound, emitted

BARE = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}  # only compiled loops call these
# Nobody counts references (_nrt): counting costs more than a short row, and two threads that count on one
# array wait for each other. The caller holds its arrays meanwhile, and a loop allocates nothing.
ALL = {"nogil": True, "_nrt": False, "error_model": "numpy"}


class Loops:
    """The compiled loops of one file and the functions that they call, by its name and its globals."""

    def __init__(self, file: str, names: dict[str, Any]) -> None:
        self.file, self.names = Path(file), names
        self.entries: list[Entry] = []
        self._parts: list[tuple[str, Callable[[], Any]]] = []
        self._lock, self._ready = Lock(), False

    def helper(self, **options: Any) -> Callable[[Callable], Callable]:
        """A mark for a function that loops call; plain Python until it is compiled."""
        def marked(function: Callable) -> Callable:
            self._parts.append((function.__name__, lambda: _jit()(**ALL, **BARE, **options)(function)))
            return function
        return marked

    def intrinsic(self, name: str, function: Callable) -> Any:
        """A name that stands for instructions, which `function` gives to the compiler."""
        def made() -> Any:
            from numba.extending import intrinsic
            return intrinsic(function)
        self._parts.append((name, made))
        return None

    def entry(self, signature: str) -> Callable[[Callable], Entry]:
        """A mark for a loop that Python calls, with its types as the compiler writes them."""
        def marked(function: Callable) -> Entry:
            self.entries.append(Entry(self, function, signature))
            return self.entries[-1]
        return marked

    def ready(self) -> None:
        """Make every entry callable: from what is kept, else by compiling it all."""
        with self._lock:
            if not self._ready:
                self._ready = self._from_kept() or self._compiled_and_kept() or self._compiled()

    def is_kept(self) -> bool:
        """Whether the code for this computer is kept; True too where it never can be."""
        return not can_be_kept() or kept(self.file) is not None

    def _from_kept(self) -> bool:
        return can_be_kept() and self._bind(take(self.file))

    def _bind(self, taken: Taken | None) -> bool:
        if taken is None or {each.name for each in taken.entries} != {each.name for each in self.entries}:
            return False
        called = bound(taken.code, taken.entries)
        if called is None:
            return False
        for entry in self.entries:
            entry.call = called[entry.name]
        return True

    def _compiled_and_kept(self) -> bool:
        """Compile all, without what only the compiler's own calls need, and keep the code."""
        if not can_be_kept():
            return False
        try:
            with self._parts_compiled():
                conventions, code = emitted([(each.name, each.compiled(**BARE)) for each in self.entries])
        except Unfit:
            return False
        keep(self.file, Taken(conventions, code))
        return self._bind(Taken(conventions, code))

    def _compiled(self) -> bool:
        with self._parts_compiled():
            for entry in self.entries:
                entry.call = entry.compiled(cache=True)
        return True

    @contextmanager
    def _parts_compiled(self) -> Iterator[None]:
        """Every helper's compiled self in its place meanwhile, which only compiled code may call."""
        plain = {name: self.names[name] for name, _ in self._parts}
        try:
            for name, made in self._parts:  # in order: a later one calls an earlier one
                self.names[name] = made()
            yield
        finally:
            self.names.update(plain)


class Entry:
    """A loop that Python calls with arrays and numbers, as its signature says."""

    def __init__(self, loops: Loops, function: Callable, signature: str) -> None:
        self.loops, self.function, self.signature = loops, function, signature
        self.name, self.__doc__ = function.__name__, function.__doc__
        self.call: Callable | None = None

    def __call__(self, *arguments: Any) -> Any:
        if self.call is None:
            self.loops.ready()
        return self.call(*arguments)  # type: ignore[misc]

    def compiled(self, **options: Any) -> Any:
        """The compiler's own function."""
        return _jit()(self.signature, **ALL, **options)(self.function)


def _jit() -> Any:
    import numba  # slow to load, and only needed where nothing is kept
    return numba.njit

