"""The keys of a dialect: what each decides, and the values that it may have.

The law: a key that is not here does not exist. A key is about how a control reads a program, never about
one machine; its name is `subject.question`. Units are millimetres and seconds where the key says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

STRING, TRUTH, NUMBER, WHOLE = "a text in quotes", "true or false", "a number", "a whole number"
NAMES, TABLE, LEVELS = "a list of texts", "a table", "a list of lists of operators"


@dataclass(frozen=True, slots=True)
class Key:
    """One question: `accepts` is a tuple of the only values, or one of the words above."""

    says: str
    accepts: tuple[Any, ...] | str

    def takes(self, value: Any) -> bool:
        """Whether a value from a dialect file answers this question."""
        if isinstance(self.accepts, tuple):
            return any(type(value) is type(choice) and value == choice for choice in self.accepts)
        return TAKES[self.accepts](value)

    @property
    def wanted(self) -> str:
        """What a person is told would be accepted."""
        if isinstance(self.accepts, tuple):
            return " or ".join(f'"{choice}"' for choice in self.accepts)
        return self.accepts


def _texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(each, str) for each in value)


TAKES = {
    STRING: lambda v: isinstance(v, str),
    TRUTH: lambda v: isinstance(v, bool),
    NUMBER: lambda v: isinstance(v, int | float) and not isinstance(v, bool) and abs(v) < float("inf"),
    WHOLE: lambda v: isinstance(v, int) and not isinstance(v, bool) and v >= 0,
    NAMES: _texts,
    TABLE: lambda v: isinstance(v, dict),
    LEVELS: lambda v: isinstance(v, list) and bool(v) and all(_texts(level) for level in v),
}

KEYS: Mapping[str, Key] = MappingProxyType({
    # how a line is written
    "lex.letters": Key("letters that a word may begin with", STRING),
    "lex.max_line": Key("most characters on a line", WHOLE),
    "lex.n_max": Key("highest line number; its digits are the most that may be written", WHOLE),
    "lex.percent": Key("a % ends the reading (one program a file) or only parts programs",
                       ("ends", "parts")),
    "lex.expressions": Key("parameters and expressions may stand for numbers", TRUTH),
    "lex.realtime": Key("characters that act at once, wherever they stand", STRING),
    "lex.valueless_words": Key("letters that may stand without a number", STRING),
    # numbers and units
    "number.no_point": Key("X10 is ten units, or ten of the least increment", ("unit", "increment")),
    "number.increment": Key("the least increment, {mm, in}", TABLE),
    "number.increment_letters": Key("letters that count in increments", STRING),
    "units.codes": Key("which code chooses which unit", TABLE),
    "units.default": Key("the unit of a program that never says", ("mm", "inch")),
    "units.f_on_change": Key("whether F is converted when the unit changes", ("keep", "convert")),
    # expressions
    "expr.levels": Key("operators, those that bind first first", LEVELS),
    "expr.fix_fup": Key("FIX and FUP of a negative: down and up, or toward zero and away", ("floor", "zero")),
    "expr.logic": Key("AND OR XOR: of true and false, or bit by bit", ("logical", "bitwise")),
    "expr.atan": Key("ATAN from -180 to 180, or from 0 to 360", ("signed", "positive")),
    "expr.last_parameter": Key("the highest number behind #", WHOLE),
    "expr.undefined": Key("a parameter that was never set", ("zero", "empty", "error")),
    "expr.assign": Key("when #1=... takes effect", ("end", "at_once")),
    # arcs
    "arc.centre_default": Key("I J K from the arc's start, or absolute", ("inc", "abs")),
    "arc.quadrant": Key("I and J signed over any sweep; unsigned within one quadrant; or as G74 (one) and "
                        "G75 (any) choose", ("multi", "single", "codes")),
    "arc.no_end": Key("an arc with no end point", ("error", "full_circle")),
    "arc.no_centre": Key("an arc with neither R nor centre", ("error", "line")),
    "arc.r_full": Key("R with end = start", ("error", "none")),
    "arc.r_short": Key("R shorter than half the chord", ("error", "stretch")),
    "arc.tol": Key("radii may differ by {abs (mm), inch (in), rel, abs_hard (mm)}", TABLE),
    "arc.turns_word": Key("the word that counts turns", ("", "P", "L")),
    "arc.feed_on": Key("F along the helix, or along its projection", ("helix", "circle")),
    # cycles
    "cycle.codes": Key("which code does what", TABLE),
    "cycle.g80": Key("what G80 ends: all motion, or the cycle (then G0 to G3 hold as before it)",
                     ("motion", "cycle")),
    "cycle.g83_return": Key("where G83 goes between pecks", ("clear", "R")),
    "cycle.g83_backoff_mm": Key("where G83 starts to feed again above the last bottom", NUMBER),
    "cycle.g73_retract_mm": Key("how far G73 backs off", NUMBER),
    "cycle.g98_level": Key("G98's level: Z before the line, or before the series", ("line", "series")),
    "cycle.repeat_word": Key("the word that repeats a cycle", ("L", "K")),
    "cycle.repeat_zero": Key("zero repeats", ("error", "store_only")),
    "cycle.trigger_words": Key("words that make a hole", STRING),
    "cycle.sticky_scope": Key("how long R, Z, P, Q hold", ("same_code", "all_cycles")),
    "cycle.shift": Key("which way Q moves the stopped edge of a boring tool (G76, G87), in the plane's axes",
                       ("x+", "x-", "y+", "y-")),
    "cycle.q_rule": Key("Q must be over 0, or its size counts", ("positive", "magnitude")),
    # dwell
    "dwell.words": Key("G4's words, each s or ms", TABLE),
    "dwell.cycle_p": Key("P of a cycle", ("s", "ms")),
    # home, offsets, lengths
    "home.axes": Key("the second move of G28 and G30: all axes or those named", ("all", "named")),
    "home.no_words": Key("G28 alone", ("all", "none", "error")),
    "home.kind": Key("a stored place, or the switches", ("stored", "homing")),
    "g92.bare": Key("G92 alone", ("error", "zero")),
    "g92.cleared_by": Key("what ends G92's offset", NAMES),
    "g52.kind": Key("G52", ("none", "local", "same_as_g92")),
    "g10.l2_g91": Key("G10 L2 while G91 holds", ("absolute", "added")),
    "g10.l2_r": Key("R of G10 L2", ("error", "turns")),
    "g10.p0": Key("G10 P0", ("error", "active", "common")),
    "g10.tools": Key("G10 L1, L10 to L13: refused, a cutter's row by its axis words, or a register by R",
                     ("error", "table", "registers")),
    "g10.l20": Key("G10 L20", ("error", "set_here", "extended")),
    "tlo.motion": Key("whether G43 moves", ("none", "next_move", "immediate")),
    "tlo.no_h": Key("G43 without H", ("error", "tool", "last")),
    "tlo.reset_by": Key("codes that end the length offset", NAMES),
    "compensation.inside": Key("an inside corner under G41 and G42: refused, or cut where both paths meet",
                               ("error", "meet")),
    # rapids, feeds, cutters, program
    "rapid.path": Key("the way of G0", ("linear", "per_axis", "unknown")),
    "feed.initial": Key("a feed move before any F", ("error", "machine")),
    "tool.t_changes": Key("T alone changes the cutter", TRUTH),
    "tool.m6": Key("M6 changes where the cutter stands, moves the axes to change and leaves them, pauses, is "
                   "ignored or refused", ("change", "moves", "pause", "ignored", "error")),
    "order.m_after_motion": Key("M codes that act after the line's motion", NAMES),
    "start.motion": Key("the motion code that holds at the start", ("none", "G0", "G1")),
    "flow.kind": Key("subprograms and loops", ("none", "labels", "macros", "both")),
    "flow.m98_p": Key("P of M98 is a program, or repeats and program", ("program", "rrrrpppp")),
    "flow.m98_repeat_word": Key("the word that repeats a call", ("L", "K")),
    "flow.m99_main": Key("M99 in a main program", ("end", "loop")),
    "flow.max_steps": Key("lines run again without a move before a loop is called endless", WHOLE),
    "flow.max_moves": Key("moves before a program is called endless", WHOLE),
    "codes.taken": Key("codes that the control takes", NAMES),
    "codes.harmless": Key("codes that do nothing here", NAMES),
})
