"""Bytes and words of real-looking programs changed, cut and repeated: nothing crashes, nothing hangs.

Run it: `python tests/bench/bench_fuzz.py [HOW MANY] [SEED]`. Every input that is not read to an end within
two seconds of processor time is printed, with the seed that makes it again. A program may make 10 000 moves
here: one that is to make millions takes its time honestly.
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
MOST_MOVES = {"flow.max_moves": 10_000}
NAMES = shipped()


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
    raise TimeoutError(f"not read to an end within {MOST_SECONDS:.0f} s of work")


def read(number):
    """Reads the input of a seed; None, or why that was not well, with what makes it again."""
    dice = random.Random(number)
    data, dialect = mutated(dice), load_dialect(dice.choice(("union", *NAMES))).with_values(MOST_MOVES)
    signal.setitimer(signal.ITIMER_VIRTUAL, MOST_SECONDS)
    try:
        reading = read_program(Source("fuzz", data), dialect)
        assert all(found.message() and found.advice() for found in reading.findings)
    except Unreadable:
        pass
    except Exception:
        return f"{traceback.format_exc()}\nseed {number}, dialect {dialect.name}:\n{data!r}\n"
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
    return None


def main(count=200_000, seed=1):
    signal.signal(signal.SIGVTALRM, hangs)
    slowest, began, bad = (0.0, 0), time.process_time(), 0
    for number in range(seed, seed + count):
        start = time.process_time()
        why = read(number)
        if why is not None:
            print(why, flush=True)
            bad += 1
        slowest = max(slowest, (time.process_time() - start, number))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"seeds {seed} to {seed + count - 1}: {bad} bad, {time.process_time() - began:.0f} s; "
          f"slowest {slowest[0]:.2f} s (seed {slowest[1]}); memory {peak / 1e6:.0f} MB")
    sys.exit(bad > 0 or peak > MOST_BYTES)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
