"""A job file with every key, and a program for it: the ground of the job file's tests."""

from __future__ import annotations

from pathlib import Path

WHOLE = """\
format = 1
title = "Left half"
units = "mm"

[machine]
dialect = "standard"
origin = [88.0, 41.5, -64.2]
travel = { x = [0, 760], y = [0, 980], z = [-110, 0] }
rapid = [4000, 4000, 2000]
acceleration = [350, 350, 200]
spindle = [8000, 24000]
spindle_by = "program"
spin_up = 4
max_feed = 5000
spindle_power = 2.2
tram = { swing = 180, x = 0.03, y = -0.08 }
nose = [ { diameter = 40, length = 22 }, { diameter = 80, length = 55 } ]
shoe = { x = [-40, 40], y = [-55, 90], hard = -5, brush = -35, bend = 8, moves = true }
m7 = "air"
m8 = "extraction"

[bed]
top = -19.0
soft = false
openings = [
  { name = "tapped holes", diameter = 6.65, mouth = 9.0, depth = 15, grid = { start = [40, 40], \
count = [5, 4], pitch = [100, 100], stagger = 0 } },
  { name = "slot", x = [0, 500], y = [196, 204], depth = 11 },
  { name = "dowels", diameter = 8, at = [[20, 20]] },
]

[board]
material = "MDF"
x = [0, 500]
y = [0, 400]
top = 0.0
thickness = 19.0
history = [ { date = 2025-11-20, depth = 0.5, thickness = 19.5 } ]
cell = 0.5
keep = 6.0
keep_over_heads = 1.5
span = 180

[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 32
edges = 2
seats = 4
core = 16.0
core_gap = 0.25
corner = { radius = 0.4 }
max_rpm = 16000
flute_length = 7
stickout = 30
shank = 12.0
length = 0.0
chip_load = [0.03, 0.25]
deepest_pass = 1.2
plunge = 400
centre_cutting = false

[[cutters]]
number = 2
shape = "drill"
diameter = 6.6
angle = 120

[[cutters]]
number = 3
shape = "cone"
diameter = 12
tip = 0.2
angle = 90

[[cutters]]
number = 4
shape = "profile"
profile = [[0, 0], [3, 0.5], [6, 4]]

[[cutters]]
number = 5
shape = "flat"
diameter = 8
corner = { chamfer = 0.5 }

[[fasteners]]
name = "edge screws"
screw = "ISO 7380-1 M6"
washer = "ISO 7089 M6"
length = 25
at = [[40, 40], [440, 40]]
seat = -8.0
measured = [ { at = [40, 40], sunk = 0.6 } ]
lift = 0.1
recess = { diameter = 15, depth = 8.0 }

[[fasteners]]
name = "middle screws"
head = { diameter = 13, height = 8 }
grid = { start = [140, 140], count = [3, 2], pitch = [100, 100] }
sunk = 2.0
recess = { cut_by = "drill" }

[[clamps]]
name = "front"
x = [200, 240]
y = [-20, 12]
z = [0, 20]

[[clamps]]
name = "post"
at = [20, 390]
diameter = 18
above = 15

[[clamps]]
name = "bar"
from = [-10, 0]
to = [-10, 400]
width = 12
above = 10

[[obstacles]]
name = "fence"
x = [505, 520]
y = [0, 400]
z = [-19, 5]

[zeros]
G55 = [250, 0, 0]
"G59.3" = [0, 200, 1.5]

[uncertainty]
z_zero = 0.05
head_xy = 0.4
head_z = 0.2

[[stages]]
name = "drill"
program = "drill.nc"
zero = [0, 0, 0]
start = [0, 0, 25]
cutter = 2
rpm = 9000
fitted = []
clamps = ["front", "post"]
block_delete = false
optional_stop = true
changes = [
  { at_stop = 1, remove = ["front"], add = ["bar"], fit = ["edge screws"], unfit = ["edge screws"] },
  { at_line = 3, cutter = 3, zero = [0, 0, 1], touch = { cutter = 3, on = "bed", block = 10.0 } },
]
touch = [ { cutter = 2, on = "board", at = [250, 200] } ]
holes = [
  { grid = { start = [40, 40], count = [5, 4], pitch = [100, 100] }, diameter = 6.6, \
through = true, tolerance = 0.2 },
  { at = [[70, 70]], diameter = 6.6, depth = 12 },
  { like = "dowels", diameter = 8.0 },
]

[[stages]]
name = "face"
program = "face.nc"
cutter = 1
fitted = ["edge screws", "middle screws"]
clamps = "as left"
face = { x = [0, 500], y = [0, 400], z = -0.5, tolerance = 0.05, ridge = 0.02 }
quiet = [ { kind = "chip-thin", reason = "air cut at the edge" } ]

[[stages]]
name = "face again"
program = "face.nc"
number = 12
face = { outline = [[0, 0], [500, 0], [250, 400]], depth = 0.4 }
"""

PARTS = """\
[board]
surface = "last.npz"
outline = [[0, 0], [500, 0], [500, 400], [0, 400]]

[[cutters]]
number = 1
shape = "flat"
diameter = 10

[[stages]]
name = "face"
program = "face.nc"
"""

IN_PARTS = """\
[board]
survey = "tops.csv"
thickness = 18
parts = [
  { name = "front", x = [0, 500], y = [0, 195], top = 0.0, thickness = 18.0, material = "acetal" },
  { name = "back", outline = [[0, 205], [500, 205], [250, 400]], repeat = { count = 1, step = [0, 100] } },
]

[[cutters]]
number = 1
shape = "flat"
diameter = 10

[[fasteners]]
name = "screws"
screw = "ISO 4762 M6"
at = [[20, 20]]
part = "back"

[[clamps]]
name = "front"
x = [0, 40]
y = [-20, 15]
above = 20
part = "front"

[[stages]]
name = "face"
program = "face.nc"
parts = ["back"]
"""

SHORT = """\
[board]
x = [0, 300]
y = [0, 200]

[[cutters]]
number = 1
shape = "facing"
diameter = 25.4

[[stages]]
name = "face"
program = "face.nc"
"""

PROGRAM = "G21 G90\nG0 Z5\nM0\nG0 X10 Y10\nM30\n"


def write_job(folder: Path, text: str) -> Path:
    """A job file beside all the files that the texts above name."""
    for name in ("drill.nc", "face.nc"):
        (folder / name).write_text(PROGRAM, encoding="utf-8")
    (folder / "tops.csv").write_text("x,y,z\n0,0,0\n500,0,0.2\n250,400,-0.1\n", encoding="utf-8")
    (folder / "last.npz").write_bytes(b"PK\x03\x04\x00\x00")
    job = folder / "job.toml"
    job.write_bytes(text.encode())
    return job
