"""From the grammar's rules to what is written: one method for each rule of the grammars.

The law: nothing is judged here. What only some controls take is read as they read it, and a Slip says so.
"""

from __future__ import annotations

from math import nan
from typing import Any, NamedTuple

from lark import Token, Transformer

from .gathering import Label, Line, Mark, gather
from .slips import Slip
from .written import Assignment, Call, Chain, Comment, Flow, Name, Number, Parameter, Signed, Value, Word

MOST_DIGITS = 300  # a longer number is larger than any


SIGNS = {"<=": "LE", ">=": "GE", "==": "EQ", "!=": "NE", "<>": "NE", "<": "LT", ">": "GT", "&&": "AND",
         "||": "OR"}  # operators as other languages write them


class Placed(NamedTuple):
    """A value and where it stands."""

    value: Value
    column: int
    end: int


class Step(NamedTuple):
    """What an O word does."""

    name: str
    values: tuple[Value, ...]
    end: int


def _named(token: Token) -> Placed:
    return Placed(Name("".join(token[1:-1].split()).lower()), token.column or 0, token.end_column or 0)


def _where(first: Token, last: Token) -> tuple[int, int]:
    return first.column or 0, last.end_column or 0


class Leaves(Transformer[Token, Any]):
    """Called by the parser, bottom up; `slips` gathers what is doubtful on the line at hand."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""
        self.slips: list[Slip] = []

    def begin(self, text: str) -> None:
        self.text = text
        self.slips.clear()

    def slip(self, condition: str, column: int, end: int, found: str, expected: str) -> None:
        self.slips.append(Slip(condition, column, end, found, expected))

    # --- values ---

    def number(self, parts: list[Token]) -> Placed:
        written, (column, end) = parts[-1], _where(parts[0], parts[-1])
        digits = "".join(written.split())
        if len(digits) != len(written):
            self.slip("number-blanks", column, end, "a number with blanks in it", digits)
        if "e" in digits or "E" in digits:
            self.slip("number-exponent", column, end, "a number with an exponent",
                      "digits and one decimal point")
        if len(digits) > MOST_DIGITS:
            self.slip("value-not-finite", column, end, f"a number of {len(digits)} digits", "a shorter one")
        sign = str(parts[0]) if len(parts) > 1 else ""
        return Placed(Number(float(sign + digits), "." in digits), column, end)

    def signed(self, parts: tuple[Token, Placed]) -> Placed:
        (sign, inner), column = parts, parts[0].column or 0
        self.slip("sign-before-value", column, inner.end, f'a "{sign}" before something that is no '
                  "plain number", "a bracket with a 0 in it, [0-…],")
        return Placed(Signed(-1 if sign == "-" else 1, inner.value), column, inner.end)

    def parameter(self, parts: list[Any]) -> Placed:
        inner = _named(parts[1]) if isinstance(parts[1], Token) else parts[1]
        return Placed(Parameter(inner.value), parts[0].column, inner.end)

    def sum(self, parts: list[Any]) -> Placed:
        written = ("".join(operator.split()).upper() for operator in parts[1::2])
        operators = tuple(SIGNS.get(operator, operator) for operator in written)
        values = tuple(part.value for part in parts[::2])
        return Placed(Chain(values, operators), parts[0].column, parts[-1].end)

    def bracket(self, parts: list[Any]) -> Placed:
        return Placed(parts[0].value, parts[0].column, parts[1].end_column)

    def call(self, parts: list[Any]) -> Placed:
        name, values = "".join(parts[0].split()).upper(), [p for p in parts if isinstance(p, Placed)]
        last = parts[-1]
        end = last.end if isinstance(last, Placed) else last.end_column
        if name == "ATAN" and len(values) == 1:
            self.slip("atan-alone", parts[0].column, end, "ATAN of one value", "ATAN[y]/[x]")
        return Placed(Call(name, *(each.value for each in values)), parts[0].column, end)

    # --- items ---

    def word(self, parts: list[Any]) -> Word:
        letter = parts[0]
        if len(parts) == 1:
            return Word(letter.upper(), Number(nan), letter.column, letter.end_column)
        return Word(letter.upper(), parts[1].value, letter.column, parts[1].end)

    def corner(self, parts: list[Any]) -> Word:
        sign, value = parts
        self.slip("comma-word", sign.column, value.end, "a corner's word behind a comma",
                  "a corner written as a move")
        return Word("," + sign[-1].upper(), value.value, sign.column, value.end)

    def setting(self, parts: list[Any]) -> Assignment:
        parameter, (value, column, end), *rest = parts
        assert isinstance(parameter.value, Parameter)  # the grammar says so
        assert isinstance(value, Chain)
        for times in rest:  # #1=#2*2 ends as a line with a checksum does
            factor = Number(float(times[1:]), False)
            value, end = Chain((*value.values, factor), (*value.operators, "*")), times.end_column
        if value.operators:
            self.slip("expression-bare", column, end, "an expression with no brackets",
                      "an expression in [ ]")
        else:
            value = value.values[0]
        return Assignment(parameter.value.index, value, parameter.column, end)

    def comment(self, parts: list[Token]) -> Comment:
        text, (column, end) = str(parts[0]), _where(parts[0], parts[0])
        if parts[0].type == "TAIL":
            sign = "//" if text.startswith("//") else text[0]
            name = "comment-semicolon" if sign == ";" else "comment-foreign"
            self.slip(name, column, column + len(sign), f'a comment behind "{sign}"', "a comment in ( )")
            return Comment(text[len(sign):], column, end)
        if parts[0].type == "OPEN":
            self.slip("comment-open", column, end, "a comment that is not closed", 'a comment with its ")"')
            return Comment(text[1:], column, end)
        if "(" in text[1:]:
            inner = column + text.index("(", 1)
            self.slip("comment-nested", inner, inner + 1, 'a "(" within a comment',
                      'a comment without "(" in it')
        return Comment(text[1:-1], column, end)

    def label(self, parts: list[Token]) -> Label:
        (column, end), slash = _where(parts[0], parts[-1]), parts[-1].type == "SLASH"
        digits = "".join("".join(part.split()) for part in parts if part.type == "NUMBER")
        if slash:
            self.slip("block-delete-inner", end - 1, end, 'a "/" behind the line number', 'a "/" before it')
        if not digits:
            self.slip("line-number-bare", column, end, "N with no number", "N and a whole number")
        return Label(digits, column, end, slash)

    def skip(self, parts: list[Token]) -> Mark:
        return Mark("skip", None, *_where(parts[0], parts[-1]))

    def percent(self, parts: list[Token]) -> Mark:
        return Mark("percent", _whole(parts[1]) if len(parts) > 1 else None, *_where(parts[0], parts[-1]))

    def program(self, parts: list[Token]) -> Mark:
        return Mark("program", _whole(parts[1]), *_where(parts[0], parts[-1]))

    # --- program flow ---

    def flow(self, parts: list[Any]) -> Flow:
        letter, label, *steps = parts
        label = _named(label) if isinstance(label, Token) else label
        step = steps[0] if steps else Step("CALL", (), label.end)
        if isinstance(step, Token):
            step = Step("".join(step.split()).upper(), (), step.end_column or 0)
        return Flow(step.name, letter.column, step.end, label.value, step.values)

    def step(self, parts: list[Any]) -> Step:
        keyword, *values = parts
        end = values[-1].end if values else keyword.end_column
        return Step("".join(keyword.split()).upper(), tuple(value.value for value in values), end)

    def jump(self, parts: list[Any]) -> Flow:
        """[condition] GOTO n, condition THEN, WHILE [c] DO n, DO n, END n."""
        keywords = [part for part in parts if isinstance(part, Token) and part.type != "NUMBER"]
        values = [part for part in parts if isinstance(part, Placed)]
        digits = [Number(float("".join(part.split()))) for part in parts if isinstance(part, Token)
                  and part.type == "NUMBER"]
        name = str(keywords[-1] if keywords[-1].type == "GOTO" else keywords[0]).upper()
        target = values.pop().value if name == "GOTO" else digits[0] if digits else None
        last = parts[-1]
        end = last.end if isinstance(last, Placed) else last.end_column
        column = parts[0].column or 0
        return Flow(name, column, end, values=tuple(value.value for value in values), target=target)

    def machine(self, parts: list[Token]) -> Placed:
        name = "".join(parts[0].split()).lower()
        return Placed(Parameter(Name(f"_hal{name}")), *_where(parts[0], parts[0]))

    def condition(self, parts: list[Any]) -> Placed:
        return Placed(parts[1].value, parts[0].column, parts[1].end)

    # --- the line ---

    def line(self, parts: list[Any]) -> Line:
        return gather(parts, self.slips, self.text)


def _whole(written: Token) -> int | None:
    digits = "".join(written.split())
    return int(digits) if digits.isdigit() else None
