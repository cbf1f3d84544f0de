"""Machine code of compiled loops: taken from the compiler, and called without it.

The law: what a loop is handed is checked before it runs: an array of another type, not contiguous or not to
be written on is refused, never misread. How the compiler lays out arguments is not taken on trust: code whose
parameters are not exactly these is Unfit, and so is code that needs anything but the C library.

An array goes as two empty pointers, its length and item size, its place, then its shape and strides; a number
as itself. In front stand where the result goes and where an error would be told.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numpy as np

FINE = (0, -2)  # what a loop returns that went through, with a result and with none
NUMBERS = {"int64": (ctypes.c_int64, int, "i64"), "float64": (ctypes.c_double, float, "double"),
           "bool": (ctypes.c_int8, bool, "i8")}


class Unfit(Exception):
    """Code that cannot be called this way."""


@dataclass(frozen=True)
class Given:
    """An argument: its type, how many axes it has (0: a number), and whether the loop writes on it."""

    type: str
    axes: int = 0
    written: bool = False

    def parameters(self) -> list[str]:
        """The types of what it is handed over as."""
        if not self.axes:
            return [NUMBERS[self.type][2]]
        return ["ptr", "ptr", "i64", "i64", "ptr"] + ["i64"] * (2 * self.axes)


@dataclass(frozen=True)
class Convention:
    """How a loop is called: its name, its name in the code, its arguments, how many integers it gives, and
    what it calls of the C library."""

    name: str
    symbol: str
    arguments: tuple[Given, ...]
    results: int
    library: tuple[str, ...]

    def as_data(self) -> dict[str, Any]:
        return asdict(self)

    @staticmethod
    def of_data(data: dict[str, Any]) -> Convention:
        given = tuple(Given(**each) for each in data["arguments"])
        return Convention(data["name"], data["symbol"], given, data["results"], tuple(data["library"]))


# --- from the compiler ---------------------------------------------------------------------------
def emitted(functions: Sequence[tuple[str, Any]]) -> tuple[tuple[Convention, ...], bytes]:
    """How each compiled function is called, and the code of all. Raises Unfit."""
    from llvmlite import binding

    whole, conventions = None, []
    for name, function in functions:
        module = binding.parse_assembly(function.inspect_llvm(function.signatures[0]))
        conventions.append(_convention(name, function.nopython_signatures[0], module))
        if whole is None:
            whole = module
        else:
            whole.link_in(module)
    if whole is None:
        raise Unfit
    return tuple(conventions), _machine().emit_object(whole)


def _convention(name: str, signature: Any, module: Any) -> Convention:
    given, results = tuple(_given(each) for each in signature.args), _results(signature.return_type)
    wanted = ["ptr", "ptr"] + [kind for each in given for kind in each.parameters()]
    defined = [each for each in module.functions
               if not each.is_declaration and each.linkage.name == "external"]
    if len(defined) != 1 or [_kind(each.type) for each in defined[0].arguments] != wanted:
        raise Unfit(name)
    library = [each.name for each in (*module.functions, *module.global_variables)
               if each.is_declaration and not each.name.startswith("llvm.")]
    return Convention(name, defined[0].name, given, results, tuple(library))


def _kind(of: Any) -> str:
    written = str(of)
    return "ptr" if written.endswith("*") else written


def _given(of: Any) -> Given:
    """An argument as the compiler names its type."""
    if hasattr(of, "layout"):
        if of.layout != "C" or not of.aligned:
            raise Unfit(str(of))
        return Given(str(of.dtype), of.ndim, of.mutable)
    if str(of) not in NUMBERS:
        raise Unfit(str(of))
    return Given(str(of))


def _results(of: Any) -> int:
    for count, written in ((0, "none"), (1, "int64")):
        if str(of) == written:
            return count
    if str(getattr(of, "dtype", "")) == "int64" and hasattr(of, "count"):
        return of.count
    raise Unfit(str(of))


# --- without it ----------------------------------------------------------------------------------
def _machine() -> Any:
    """This computer, as the code generator knows it; an engine keeps the one that it is given."""
    from llvmlite import binding

    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    target = binding.Target.from_triple(binding.get_process_triple())
    return target.create_target_machine(
        cpu=binding.get_host_cpu_name(), features=binding.get_host_cpu_features().flatten(), opt=3, jit=True,
        reloc="static" if target.name.startswith("x86") else "default", codemodel="jitdefault")


@cache
def processor() -> str:
    """What this computer's code is made for."""
    from llvmlite import __version__, binding

    return " ".join((__version__, binding.get_process_triple(), binding.get_host_cpu_name(),
                     binding.get_host_cpu_features().flatten()))


_loaded: list[Any] = []  # code that is in use stays


def bound(code: bytes, conventions: Sequence[Convention]) -> dict[str, Callable] | None:
    """The loops of some code, by name; None where something that it calls is not here."""
    from llvmlite import binding

    machine = _machine()
    engine = binding.create_mcjit_compiler(binding.parse_assembly(""), machine)
    if not all(binding.address_of_symbol(each) for one in conventions for each in one.library):
        return None
    engine.add_object_file(binding.ObjectFileRef.from_data(code))
    engine.finalize_object()
    _loaded.append(engine)
    return {each.name: _caller(each, engine.get_function_address(each.symbol)) for each in conventions}


def _caller(convention: Convention, address: int) -> Callable:
    """A Python function that hands arguments over to the code at an address, which runs without the lock."""
    hand = [_array(convention.name, each) if each.axes else _number(each) for each in convention.arguments]
    kinds = {"ptr": ctypes.c_void_p, **{written: kind for kind, _, written in NUMBERS.values()}}
    parameters = [kinds[each] for given in convention.arguments for each in given.parameters()]
    run = ctypes.CFUNCTYPE(ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, *parameters)(address)
    many, room = convention.results, ctypes.c_int64 * max(convention.results, 1)

    def call(*arguments: Any) -> Any:
        handed: list[Any] = []
        for one, argument in zip(hand, arguments, strict=True):
            handed += one(argument)
        result, error = room(), ctypes.c_void_p()
        if (status := run(ctypes.addressof(result), ctypes.addressof(error), *handed)) not in FINE:
            raise RuntimeError(f"{convention.name} ended with {status}")
        return None if not many else (result[0] if many == 1 else tuple(result))

    return call


def _number(given: Given) -> Callable[[Any], tuple]:
    made = NUMBERS[given.type][1]
    return lambda number: (made(number),)


def _array(loop: str, given: Given) -> Callable[[Any], tuple]:
    dtype, axes, written = np.dtype(given.type), given.axes, given.written

    def handed(array: Any) -> tuple:
        flags = array.flags
        if (array.dtype != dtype or array.ndim != axes or not flags.c_contiguous or not flags.aligned
                or (written and not flags.writeable)):
            raise TypeError(f"{loop} was handed {array.dtype} of {array.ndim} axes, not {dtype} of {axes}, "
                            "aligned, row by row" + (" and to be written on" if written else ""))
        return (None, None, array.size, array.itemsize, array.ctypes.data, *array.shape, *array.strides)

    return handed
