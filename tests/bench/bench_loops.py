"""What loops, calls and cycles cost: processor time a move of programs that expand, memory of long ones.

Run it: `python tests/bench/bench_loops.py [MOVES]`. The goals: 10 million moves in minutes and under 2 GB.
"""

import resource
import sys
import time

from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.source import Source

HEAD = "G21 G17 G90 G94 G54 G98 G91.1\nM3 S10000\nG0 Z5\nG0 X0 Y0\nG1 Z0 F500\n"
COUNTED = "#100=0\nWHILE [#100 LT {turns}] DO1\n%s\n#100=#100+1\nEND1\nM30\n"
PROGRAMS = {  # moves of a turn, text
    "a loop of straight moves": (2, COUNTED % "G1 X[#100*0.0001] Y10. Z-1.\nG1 Y0"),
    "a loop of arcs": (2, COUNTED % "G2 X10. Y10. Z[-#100*0.0001] I10. J0\nG2 X0 Y0 I0 J-10."),
    "a jump back": (2, "#1=0\nN1 G1 X[#1*.001] Y1.\nG1 Y0\n#1=#1+1\nIF [#1 LT {turns}] GOTO 1\nM30\n"),
    "a subprogram": (3, "M98 P7 L{turns}\nM30\nO7\nG91 G0 X.01\nG90 G1 Z-2 F200\nG0 Z5.\nM99\n"),
    "a macro with arguments": (3, COUNTED % "G65 P7 A[#100*.001] B2."
                               + "O7\nG0 X#1 Y#2\nG1 Z-1.\nG0 Z5.\nM99\n"),
    "a drilling cycle": (3, COUNTED % "G81 X[#100*.001] Y0 Z-5. R2. F100"),
}


def main(moves=100_000):
    for name, (each, text) in PROGRAMS.items():
        source = Source("loop.nc", (HEAD + text.format(turns=moves // each)).encode())
        began = time.process_time()
        made = len(read_program(source, load_dialect("union")).motion)
        spent = time.process_time() - began
        print(f"{name:28s} {made:12,} moves {spent:9.2f} s {spent / made * 1e6:7.1f} us/move")
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
