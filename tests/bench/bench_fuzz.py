"""Bytes and words of real-looking programs changed, cut and repeated: nothing crashes, nothing hangs.

Run it: `python tests/bench/bench_fuzz.py [HOW MANY] [SEED]`. It stops at the first input that is not read to
an end, prints it, and gives the seed that makes it again.
"""

import random
import resource
import signal
import sys
import time
import traceback

from proveout.parser.dialect import load_dialect, shipped
from proveout.parser.interpreter import read_program
from proveout.parser.source import Source, Unreadable

FACE = """%
O0001(FACE)
N10G21G90G17G40G80
N20T1M6
N30S12000M3
N40G54G0X-15.Y10.
N50G43Z5.H1
N60G1Z-.4F500.
N70X615.F2000.
N80G2X615.Y30.I0.J10.
N90G1X-15.
N100G0Z50.
N110M5
N120G28G91Z0.
N130M30
%
"""
DRILL = """G21
G90 G94
T2 M6
M3 S8000
G0 X30 Y30 Z5
G98 G83 X30 Y30 Z-18.5 R2 Q5 F300
X110
G80
G0 Z40
M5
M2
"""
MACROS = """#1=0
WHILE [#1 LT 4] DO1
G0 X[#1*25.] Y0
G1 Z-3. F300
#1=#1+1
END1
M98 P200 L3
M30
O200
G91 G0 X20
G90 G1 Z-2 F200
M99
"""
LABELS = """o100 sub
G1 X[#1+#<_step>] F100
o110 if [#2 GT 1]
G0 Z[atan[#1]/[2]]
o110 else
G0 Z5
o110 endif
o100 endsub
#<_step>=[2**3]
o120 repeat [3]
o100 call [1] [2]
o120 endrepeat
M2
"""
ODD = """G20
G91.1 G64 P.001
G10 L2 P1 X1 Y2
G52 X1
G92 Z0
/G3 X1 Y1 R1.5 (note (inner)) ; tail
G68 X0 Y0 R30
G1 X1 F10
G69
G41 D1 G1 X5
G40
G51 X0 Y0 P2
G50
G16
G15
G33 Z-1 K.1
G5 I1 J1 P1 Q1 X2 Y2
G38.2 Z-1 F5
M60
M30
"""
PROGRAMS = [text.encode() for text in (FACE, DRILL, MACROS, LABELS, ODD)]
PIECES = [*(b"G X - . [ ] # ( ) % / * = O N 1e9 999999999999 0 GOTO M99 M98P END1 o100call IF[ nan ** G2 R "
            b"G91 F0 L999 #1=#1+1").split(), b" ", b"\n", b"\x1a", b"\xff"]
MOST_SECONDS, MOST_BYTES = 2.0, 1_000_000_000


def mutated(dice):
    data = bytearray(dice.choice(PROGRAMS))
    for _ in range(dice.randint(1, 8)):
        at, far = dice.randrange(len(data) + 1), dice.randrange(1, 30)
        match dice.randrange(6):
            case 0:
                data[at:at + far] = b""
            case 1:
                data[at:at] = dice.choice(PIECES)
            case 2:
                data[at:at] = data[at:at + far] * dice.randint(1, 5)
            case 3:
                data[at:at + 1] = bytes([dice.randrange(1, 256)])
            case 4:
                other = dice.choice(PROGRAMS)
                data[at:at] = other[dice.randrange(len(other)):][:far]
            case 5:
                lines = bytes(data).split(b"\n")
                dice.shuffle(lines)
                data = bytearray(b"\n".join(lines))
    return bytes(data)


def hangs(*_):
    raise TimeoutError(f"not read to an end within {5 * MOST_SECONDS:.0f} s")


def main(count=200_000, seed=1):
    signal.signal(signal.SIGALRM, hangs)
    names, slowest, began = shipped(), (0.0, 0), time.perf_counter()
    for number in range(seed, seed + count):
        dice = random.Random(number)
        data, dialect = mutated(dice), load_dialect(dice.choice(("union", *names)))
        start = time.perf_counter()
        signal.setitimer(signal.ITIMER_REAL, 5 * MOST_SECONDS)
        try:
            reading = read_program(Source("fuzz", data), dialect)
            assert all(found.message() and found.advice() for found in reading.findings)
        except Unreadable:
            continue
        except Exception:
            traceback.print_exc()
            sys.exit(f"seed {number}, dialect {dialect.name}:\n{data!r}")
        slowest = max(slowest, (time.perf_counter() - start, number))
        if slowest[0] > MOST_SECONDS:
            sys.exit(f"seed {number}, dialect {dialect.name}: {slowest[0]:.1f} s\n{data!r}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"{count} inputs in {time.perf_counter() - began:.0f} s; "
          f"slowest {slowest[0]:.2f} s (seed {slowest[1]}); memory {peak / 1e6:.0f} MB")
    sys.exit(peak > MOST_BYTES)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
