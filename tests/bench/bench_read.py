"""How fast a program becomes Motion: quick lane, grammar lane, and a plain regular-expression reader.

Run it: `python tests/bench/bench_read.py`. The goals, on two cores: a plain program of 1 million lines (45
MB) in 1.5 s and 1.2 GB; the scanner alone in 10 times what NumPy takes to count the line ends; the grammar
lane at 10 000 lines a second.
"""

import re
import resource
import time

import numpy as np
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.scan import scan
from proveout.parser.source import Source

LINES, FEW = 1_000_000, 40_000
HEAD = "G21 G17 G90 G94 G54\nM3 S18000\nG0 Z5\nG0 X0 Y0\nG1 Z-1 F600\n"
WORD = re.compile(r"([A-Z])\s*([-+]?[\d.]+)")
UNION = load_dialect("union")


def three_axis(count):
    """Every line with a number, three axes and a feed."""
    rng = np.random.default_rng(1)
    x, y, z = rng.uniform(0, 600, count), rng.uniform(0, 400, count), rng.uniform(-9, 0, count)
    return HEAD + "".join(f"N{n} G1 X{a:.3f} Y{b:.3f} Z{c:.4f} F{1200 + n % 7 * 100}.\n"
                          for n, (a, b, c) in enumerate(zip(x, y, z, strict=True), 10)) + "M5\nM30\n"


def contours(count):
    """Modal lines, every fourth an arc by its centre, every hundredth with a comment."""
    lines = []
    for n in range(count // 4):
        x, y = n % 300, n // 300 % 200
        lines += [f"G1 X{x} Y{y}" + (" (pass)" if n % 25 == 0 else ""), f"X{x + 8.5:.3f}",
                  f"G3 X{x + 10.5:.3f} Y{y + 2} I0 J2", f"G1 Y{y + 9.25}"]
    return HEAD + "\n".join(lines) + "\nM5\nM30\n"


def best(work, times=5):
    """The least of a few runs, in seconds."""
    spent = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        spent.append(time.perf_counter() - began)
    return min(spent)


def by_regex(text):
    """What a reader in twenty lines does: moves as tuples, no check of anything."""
    place, feed, code, moves = {"X": 0.0, "Y": 0.0, "Z": 0.0}, 0.0, 0.0, []
    for line in text.splitlines():
        before = tuple(place.values())
        for letter, number in WORD.findall(line):
            if letter in place:
                place[letter] = float(number)
            elif letter == "F":
                feed = float(number)
            elif letter == "G":
                code = float(number)
        moves.append((code, before, tuple(place.values()), feed))
    return moves


def read(data, quick):
    return read_program(Source("bench.nc", data), UNION, quick=quick)


def row(name, lines, seconds, against):
    print(f"{name:44s} {seconds:8.3f} s {lines / seconds:12,.0f} lines/s {against * lines / seconds:9.1f}")


def main():
    text = three_axis(LINES)
    data = text.encode()
    read(three_axis(100).encode(), True)
    print(f"{len(data) / 1e6:.0f} MB, {LINES:,} lines {'regular expression = 1':>58s}")
    few = three_axis(FEW)
    regex = best(lambda: by_regex(few), 3) / FEW
    row("regular expressions in Python", FEW, regex * FEW, regex)
    row("grammar lane", FEW, best(lambda: read(few.encode(), False), 2), regex)
    row("quick lane", LINES, best(lambda: read(data, True)), regex)
    ends = best(lambda: np.count_nonzero(np.frombuffer(data, np.uint8) == 10))
    scanner = best(lambda: scan(data, 1000, 9))
    row("scanner alone", LINES, scanner, regex)
    print(f"{'NumPy counts the line ends':44s} {ends:8.4f} s; the scanner takes {scanner / ends:.1f} of that")
    few, many = contours(FEW), contours(LINES).encode()
    row("contours: regular expressions", FEW, best(lambda: by_regex(few), 3), regex)
    row("contours: grammar lane", FEW, best(lambda: read(few.encode(), False), 2), regex)
    row("contours: quick lane", LINES, best(lambda: read(many, True), 2), regex)
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB, with all of this")


if __name__ == "__main__":
    main()
