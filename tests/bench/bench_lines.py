"""How fast lines become Blocks: the grammar alone, the quick way, and a plain regular-expression reader.

Run it: `python tests/bench/bench_lines.py`. The goal of the grammar lane is 10 000 lines a second.
"""

import re

from bench_read import best
from proveout.parser.blocks import read_blocks
from proveout.parser.dialect import load_dialect
from proveout.parser.lines import grammar, parsed_line
from proveout.parser.source import Source

PLAIN = [f"N{n} G1 X{n / 7:.3f} Y{n / 11:.3f} Z-{n % 5}.25 F{800 + n % 9}" for n in range(1, 40_001)]
MIXED = [line for n in range(1, 4_001) for line in (
    f"G1 X{n}.5 Y-{n} (pass {n})", f"#1=[#1+{n}]", f"G0 Z{n}", f"X{n}.25", f"/N{n} G1 X[#1*{n}] Y#2")]
WORD = re.compile(r"\s*([A-Z])\s*([-+]?[\d.]+)", re.IGNORECASE)


def regex():
    for line in PLAIN:
        _ = [(letter, float(number)) for letter, number in WORD.findall(line)]


def by_grammar(lines):
    parsed_line.cache_clear()
    for line in lines:
        parsed_line(line)


def blocks(lines):
    parsed_line.cache_clear()
    read_blocks(Source("bench", "\n".join(lines).encode()), load_dialect("union"))


def main():
    grammar()
    plain = best(regex)
    rows = (("regular expressions, plain lines", PLAIN, plain),
            ("grammar alone, plain lines", PLAIN[:8_000], best(lambda: by_grammar(PLAIN[:8_000]))),
            ("grammar alone, mixed lines", MIXED, best(lambda: by_grammar(MIXED))),
            ("blocks, plain lines", PLAIN, best(lambda: blocks(PLAIN))),
            ("blocks, mixed lines", MIXED, best(lambda: blocks(MIXED))))
    for name, lines, seconds in rows:
        rate = len(lines) / seconds
        print(f"{name:34s} {rate:10.0f} lines/s, {rate * plain / len(PLAIN):.2f} of a regular expression")


if __name__ == "__main__":
    main()
