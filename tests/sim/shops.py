"""Six shops of our own, each with a whole job as its files: job file and programs, as such shops write them.

No test by itself. Every program is numbered, so that a fault can be planted on one line of it. A shop's job is
sound: sizes, feeds and heights are what a careful operator chooses, worked out beside them.
"""

# ruff: noqa: E501  (job files and faults, a line each)
from __future__ import annotations

from collections.abc import Iterable

Files = dict[str, str]


def numbered(lines: Iterable[str], step: int = 10) -> str:
    """Lines with N words; comments and % stay bare."""
    said, number = [], 0
    for line in lines:
        if line.startswith(("(", "%", ";", "O", "o")):
            said.append(line)
        else:
            number += step
            said.append(f"N{number} {line}")
    return "\n".join(said) + "\n"


def rows(first: float, last: float, step: float) -> list[float]:
    """Where passes lie: from first, a step apart, the last on the other edge."""
    found, at = [], first
    while at < last - 1e-9:
        found.append(round(at, 4))
        at += step
    return [*found, last]


# --- north: millimetres, drilling cycles, a face in one direction --------------------------------------------
def north() -> Files:
    """480 x 320 x 18 MDF over tapped holes at 80 x 80; M6 button heads at Z -8.0 + 1.8 + 3.3 = -2.9."""
    holes = [(x, y) for y in (40, 120, 200, 280) for x in (40, 120, 200, 280, 360, 440)]
    sunk = [(40, 40), (440, 40), (40, 280), (440, 280)]
    drill = ["%", "(CLEARANCE HOLES AND SCREW SEATS)", "G21 G17 G90 G40 G49 G80 G94", "G54", "T2 M6",
             "G43 H2 G0 Z60", "S4000 M3", "G4 P4", "M8", "G0 X40 Y40", "Z10",
             "G99 G83 X40 Y40 Z-20.2 R3 Q6 F600", *(f"X{x} Y{y}" for x, y in holes[1:]), "G80", "G0 Z60",
             "M5", "M9", "T3 M6", "G43 H3 G0 Z60", "S12500 M3", "G4 P4", "M8"]
    for x, y in sunk:
        drill += [f"G0 X{x} Y{y}", "Z3", "G1 Z-8 F400", "G4 P0.2", "G0 Z10"]
    drill += ["G0 Z60", "M5", "M9", "M30", "%"]
    face = ["%", "(FACE, ONE WAY)", "G21 G17 G90 G40 G49 G80 G94", "G54", "T1 M6", "G43 H1 G0 Z60",
            "S12500 M3", "G4 P4", "M8"]
    for y in rows(0, 320, 20):
        face += [f"G0 X-20 Y{y}", "Z5", "G1 Z-0.4 F500", "X500 F2000", "G0 Z10"]
    face += ["G0 Z60", "M5", "M9", "M30", "%"]
    return {"drill.nc": numbered(drill), "face.nc": numbered(face), "job.toml": """
title = "north"
[machine]
dialect = "standard"
origin = [80, 60, -70]
travel = { x = [0, 640], y = [0, 460], z = [-120, 0] }
rapid = [5000, 5000, 2500]
acceleration = 400
spindle = [3000, 24000]
spin_up = 3
max_feed = 5000
m8 = "extraction"
[bed]
top = -18
openings = [ { name = "tapped holes", diameter = 6.8, mouth = 10, depth = 20, grid = { start = [40, 40], count = [6, 4], pitch = [80, 80] } } ]
[board]
material = "MDF"
x = [0, 480]
y = [0, 320]
top = 0
thickness = 18
keep = 5
keep_over_heads = 1
span = 400
[[cutters]]
number = 1
name = "facer"
shape = "facing"
diameter = 25.4
core = 14
edges = 2
max_rpm = 18000
flute_length = 6
deepest_pass = 1
plunge = 500
length = 0
[[cutters]]
number = 2
name = "drill"
shape = "drill"
diameter = 6.6
angle = 118
edges = 2
max_rpm = 12000
flute_length = 60
chip_load = [0.05, 0.2]
plunge = 800
length = 0
[[cutters]]
number = 3
name = "mill"
shape = "flat"
diameter = 13
edges = 2
max_rpm = 18000
flute_length = 30
plunge = 400
deepest_pass = 8
length = 0
[[fasteners]]
name = "screws"
screw = "ISO 7380-1 M6"
washer = "ISO 7089 M6"
seat = -8
length = 25
grid = { start = [40, 40], count = [2, 2], pitch = [400, 240] }
recess = { cut_by = "drill" }
[[clamps]]
name = "left"
x = [-40, 15]
y = [150, 170]
above = 5
[[clamps]]
name = "right"
x = [465, 520]
y = [150, 170]
above = 5
[[stages]]
name = "drill"
program = "drill.nc"
start = [200, 160, 60]
fitted = []
clamps = ["left", "right"]
holes = [ { like = "tapped holes", diameter = 6.6, through = true },
          { grid = { start = [40, 40], count = [2, 2], pitch = [400, 240] }, diameter = 13, depth = 8 } ]
[[stages]]
name = "face"
program = "face.nc"
start = [200, 160, 60]
fitted = ["screws"]
clamps = []
face = { z = -0.4 }
"""}


# --- inch: inches, drilled by hand-written pecks, a face to and fro -------------------------------------------
def inch() -> Files:
    """24 x 16 x 0.75 in MDF; heads 0.55 wide, 0.17 high on a floor at -0.45: top at -0.28."""
    holes = [(x, y) for y in (2, 8, 14) for x in (2, 12, 22)]
    drill = ["(COUNTERBORES)", "G20 G17 G90 G40 G49 G80 G94", "G54", "G0 Z2", "S12500 M3", "G4 P4"]
    for x, y in holes:
        drill += [f"G0 X{x}. Y{y}.", "Z.2", "G1 Z-.45 F16", "G0 Z.5"]
    drill += ["G0 Z2", "M5", "M30"]
    face = ["(FACE TO AND FRO)", "G20 G17 G90 G40 G49 G80 G94", "G54", "G0 Z2", "S12500 M3", "G4 P4",
            "G0 X-1. Y0", "Z.2", "G1 Z-.015 F20"]
    for number, y in enumerate(rows(0, 16, 0.75)):
        face += [f"G1 Y{y} F70", f"X{25 if number % 2 == 0 else -1}. F80"]
    face += ["G0 Z2", "M5", "M30"]
    return {"drill.nc": numbered(drill), "face.nc": numbered(face), "job.toml": """
title = "inch"
units = "inch"
[machine]
dialect = "standard"
rapid = 200
spindle = [6000, 24000]
spin_up = 3
max_feed = 200
[bed]
top = -0.75
[board]
material = "MDF"
x = [0, 24]
y = [0, 16]
top = 0
thickness = 0.75
keep = 0.2
keep_over_heads = 0.05
span = 13
[[cutters]]
number = 1
name = "surfacer"
shape = "facing"
diameter = 1.0
core = 0.5
edges = 2
max_rpm = 18000
flute_length = 0.25
deepest_pass = 0.04
plunge = 20
[[cutters]]
number = 2
name = "counterbore mill"
shape = "flat"
diameter = 0.75
edges = 2
max_rpm = 18000
flute_length = 1
deepest_pass = 0.5
plunge = 16
[[fasteners]]
name = "bolts"
head = { diameter = 0.55, height = 0.17 }
seat = -0.45
grid = { start = [2, 2], count = [3, 3], pitch = [10, 6] }
recess = { cut_by = "seats" }
[[clamps]]
name = "toe"
x = [9, 11]
y = [-2, 0.5]
above = 0.2
[[clamps]]
name = "heel"
x = [13, 15]
y = [15.5, 18]
above = 0.2
[[stages]]
name = "seats"
program = "drill.nc"
cutter = 2
start = [0, 0, 2]
fitted = []
clamps = ["toe", "heel"]
holes = { grid = { start = [2, 2], count = [3, 3], pitch = [10, 6] }, diameter = 0.75, depth = 0.45 }
[[stages]]
name = "face"
program = "face.nc"
cutter = 1
start = [0, 0, 2]
fitted = ["bolts"]
clamps = []
face = { z = -0.015, tolerance = 0.002, ridge = 0.001 }
"""}


# --- macro: a user macro that faces in a loop -------------------------------------------------------------------
def macro() -> Files:
    """400 x 300 x 19 MDF; measured heads whose highest stands at -1.9."""
    face = ["%", "O0100 (FACE IN A LOOP)", "G21 G17 G90 G40 G49 G80 G94", "G54", "#101=20. (STEP)",
            "#102=-0.5 (DEPTH)", "#103=300. (LAST)", "T1 M6", "G43 H1 G0 Z50.", "S12500 M3", "G4 X4.", "#100=0.",
            "WHILE[#100LE#103]DO1", "G0 X-20. Y#100", "Z3.", "G1 Z#102 F400", "X420. F1800", "G0 Z8.",
            "#100=#100+#101", "END1", "G0 Z50.", "M5", "M30", "%"]
    return {"face.nc": numbered(face), "job.toml": """
title = "macro"
[machine]
dialect = "usermacro"
origin = [60, 60, -60]
travel = { x = [0, 520], y = [0, 420], z = [-100, 0] }
rapid = 4000
spindle = [6000, 24000]
spin_up = 3
[bed]
top = -19
[board]
material = "MDF"
x = [0, 400]
y = [0, 300]
top = 0
thickness = 19
keep = 8
keep_over_heads = 1
span = 250
[[cutters]]
number = 1
name = "facer"
shape = "facing"
diameter = 25.4
core = 14
corner = { radius = 0.4 }
edges = 2
max_rpm = 18000
flute_length = 6
deepest_pass = 1
plunge = 500
[[fasteners]]
name = "screws"
head = { diameter = 12, height = 3.6 }
sunk = 2.2
measured = [ { at = [380, 20], sunk = 1.9 } ]
grid = { start = [20, 20], count = [2, 2], pitch = [360, 260] }
recess = { diameter = 14, depth = 5.8 }
[[stages]]
name = "face"
program = "face.nc"
start = [200, 150, 50]
clamps = []
face = { z = -0.5 }
"""}


# --- labelled: a subprogram called for each pass, work held by strips at the side --------------------------------
def labelled() -> Files:
    """500 x 200 x 12 acetal pallet on countersunk screws; strips beside it stand 1 above its top."""
    face = ["o100 sub", "G0 X-18 Y[#1]", "G0 Z4", "G1 Z[#2] F300", "G1 X518 F1500", "G0 Z10", "o100 endsub",
            "G21 G17 G90 G40 G49 G80 G94", "G54", "G0 Z40", "S10000 M3", "G4 P4",
            *(f"o100 call [{y}] [-0.3]" for y in rows(8, 192, 22)), "G0 Z40", "M5", "M2"]
    return {"face.nc": numbered(face), "job.toml": """
title = "labelled"
[machine]
dialect = "labelled"
rapid = [6000, 6000, 3000]
spindle = [5000, 24000]
spin_up = 3
[bed]
top = -12
[board]
material = "acetal"
x = [0, 500]
y = [0, 200]
top = 0
thickness = 12
[[cutters]]
number = 1
name = "facer"
shape = "facing"
diameter = 25
core = 10
edges = 2
max_rpm = 16000
flute_length = 6
deepest_pass = 0.6
plunge = 400
[[fasteners]]
name = "countersunk"
screw = "ISO 10642 M6"
sunk = 2.5
grid = { start = [30, 30], count = [4, 2], pitch = [146, 140] }
recess = { diameter = 14, depth = 6.5 }
[[obstacles]]
name = "back strip"
x = [0, 500]
y = [208, 228]
z = [-12, 1]
[[clamps]]
name = "front strip"
x = [0, 500]
y = [-30, -8]
above = 1
[[stages]]
name = "face"
program = "face.nc"
cutter = 1
start = [250, 100, 40]
face = { x = [0, 500], y = [0, 200], z = -0.3 }
"""}


# --- compact: a small control without tool changes, a face in a spiral ------------------------------------------
def compact() -> Files:
    """300 x 300 x 18 MDF, faced from the middle outward in half turns 16 apart, then along the border."""
    face = ["; spiral", "G21 G17 G90 G94", "G54", "G0 Z30", "M3 S12000", "G4 P4", "G0 X150 Y150", "Z3",
            "G1 X160 Z-0.3 F400", "X150 F1500"]
    at = 150.0
    for turn in range(17):
        reach, way = 8.0 * (turn + 1), 1 if turn % 2 == 0 else -1
        face.append(f"G3 X{at + way * reach:g} Y150 I{way * reach / 2:g} J0")
        at += way * reach
    face += ["G0 Z5", "X-14 Y6", "G1 Z-0.3 F400", "X294 F1500", "Y294", "X6", "Y6"]
    face += ["X24 Y24", "X276", "Y276", "X24", "Y24", "G0 Z5"]
    for corner in ("X42 Y42", "X258 Y42", "X258 Y258", "X42 Y258"):
        face += [f"G0 {corner}", "G1 Z-0.3 F400", "G0 Z5"]
    face += ["G0 Z30", "M5", "M30"]
    return {"face.nc": numbered(face), "job.toml": """
title = "compact"
[machine]
dialect = "compact"
rapid = 3000
spindle = [8000, 24000]
spin_up = 3
max_feed = 3000
spindle_power = 0.8
[bed]
top = -18
[board]
material = "MDF"
x = [0, 300]
y = [0, 300]
top = 0
thickness = 18
keep_over_heads = 1
[[cutters]]
number = 1
name = "flat cutter"
shape = "flat"
diameter = 20
edges = 2
max_rpm = 20000
flute_length = 20
deepest_pass = 1
plunge = 500
centre_cutting = true
stickout = 40
shank = 8
[[fasteners]]
name = "screws"
head = { diameter = 11, height = 3 }
seat = -6
at = [[150, 20], [20, 150], [280, 150], [150, 280], [110, 150], [190, 150]]
recess = { diameter = 13, depth = 6 }
[[stages]]
name = "face"
program = "face.nc"
cutter = 1
start = [150, 150, 30]
clamps = []
"""}


# --- halves: two parts, one program for the back half with an offset of its own -----------------------------------
def halves() -> Files:
    """Front half a plastic pallet that stays, back half MDF that is faced; the track between is 6 below."""
    face = ["(FACE THE BACK HALF)", "G21 G17 G90 G40 G49 G80 G94", "G55", "G0 Z40", "S12500 M3", "G4 P4"]
    for number, y in enumerate(rows(6.5, 195, 18)):
        face += [f"G0 X{-18 if number % 2 == 0 else 418} Y{y}", "Z4", "G1 Z-0.4 F400",
                 f"X{418 if number % 2 == 0 else -18} F1800", "G0 Z8"]
    face += ["G0 Z40", "M5", "M30"]
    return {"face.nc": numbered(face), "job.toml": """
title = "halves"
[machine]
dialect = "standard"
rapid = 5000
spindle = [6000, 24000]
spin_up = 3
[bed]
top = -18
[board]
material = "MDF"
parts = [ { name = "front", x = [0, 400], y = [0, 190], top = -0.5, thickness = 17.5, material = "acetal" },
          { name = "back", x = [0, 400], y = [204, 399], top = 0, thickness = 18 } ]
[[cutters]]
number = 1
name = "facer"
shape = "facing"
diameter = 25
core = 14
edges = 2
max_rpm = 18000
flute_length = 6
deepest_pass = 1
plunge = 500
[[fasteners]]
name = "back screws"
head = { diameter = 12, height = 3.6 }
seat = -7
part = "back"
grid = { start = [40, 240], count = [3, 2], pitch = [160, 120] }
recess = { diameter = 14, depth = 7 }
[[fasteners]]
name = "front screws"
head = { diameter = 12, height = 3.6 }
seat = -7
part = "front"
grid = { start = [40, 40], count = [3, 2], pitch = [160, 110] }
recess = { diameter = 14, depth = 6.5 }
[[obstacles]]
name = "track"
x = [0, 400]
y = [191, 203]
z = [-18, -6]
[zeros]
G55 = [0, 204, 0]
[[stages]]
name = "face"
program = "face.nc"
cutter = 1
start = [200, 200, 40]
clamps = []
face = { x = [0, 400], y = [204, 399], z = -0.4 }
"""}


SHOPS = {shop.__name__: shop for shop in (north, inch, macro, labelled, compact, halves)}
