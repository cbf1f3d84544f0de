"""Twenty sound jobs as many a shop would write them, drawn by chance from what is usual. No test by itself.

They are made from practice alone: a flat cutter width, a step of 60 to 85 % of it, a depth of 0.2 to 0.8, a feed
that gives 0.05 to 0.12 mm an edge, heads well under the face. Nothing here knows how a job is judged.
"""

# ruff: noqa: E501  (job files and faults, a line each)
from __future__ import annotations

import random

from .shops import Files, numbered, rows

MATERIALS = ("MDF", "plywood", "acetal")
HEADS = (("ISO 7380-1 M6", 13), ("ISO 7380-1 M8", 17), ("ISO 4762 M6", 12))


def usual_job(seed: int) -> Files:
    """One of them, with its job file and program."""
    chance = random.Random(seed)
    width, deep = chance.choice((300, 400, 600, 900)), chance.choice((200, 300, 450))
    diameter, radius = chance.choice(((22.0, 0.4), (25.4, 0.0), (32.0, 0.8), (50.0, 0.0)))
    flat = diameter - 2 * radius
    step = round(flat * chance.uniform(0.6, 0.85), 2)
    depth = round(chance.uniform(0.2, 0.8), 2)
    speed = chance.choice((10000, 12000, 12500))
    feed = round(2 * speed * chance.uniform(0.05, 0.12), -1)
    path = chance.choice((one_way, to_and_fro, round_and_round))
    moves = path(width, deep, diameter / 2, step, depth, feed)
    start = ["G21 G17 G90 G40 G49 G80 G94", "G54", "G0 Z50", f"S{speed} M3", "G4 P5"]
    program = numbered([f"(USUAL JOB {seed})", *start, *moves, "G0 Z50", "M5", chance.choice(("M30", "M2"))])
    return {"face.nc": program, "job.toml": job_text(chance, width, deep, diameter, radius, depth)}


def job_text(chance: random.Random, width: int, deep: int, diameter: float, radius: float, depth: float) -> str:
    screw, pocket = chance.choice(HEADS)
    thick, seat = chance.choice((16, 18, 19, 25)), chance.choice((-10, -11, -12))
    corner = f"corner = {{ radius = {radius} }}\n" if radius else ""
    return f"""
[machine]
dialect = "{chance.choice(("standard", "report"))}"
rapid = {chance.choice((3000, 5000, 8000))}
spindle = [6000, 24000]
[bed]
top = {-thick}
[board]
material = "{chance.choice(MATERIALS)}"
x = [0, {width}]
y = [0, {deep}]
top = 0
thickness = {thick}
keep = 3
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = {diameter}
core = {round(diameter * 0.55, 1)}
{corner}edges = 2
max_rpm = 18000
flute_length = 6
deepest_pass = 1
plunge = 600
[[fasteners]]
name = "screws"
screw = "{screw}"
seat = {seat}
grid = {{ start = [40, 40], count = [{max(2, width // 180)}, 2], pitch = [{(width - 80) / (max(2, width // 180) - 1):g}, {deep - 80}] }}
recess = {{ diameter = {pocket}, depth = {-seat} }}
[[stages]]
name = "face"
program = "face.nc"
cutter = 1
start = [0, 0, 50]
clamps = []
face = {{ z = {-depth} }}
"""


def one_way(width: int, deep: int, radius: float, step: float, depth: float, feed: float) -> list[str]:
    """Every pass from left to right, back above the board."""
    said = []
    for y in rows(0, deep, step):
        said += [f"G0 X{-radius - 5:g} Y{y:g}", "Z5", f"G1 Z{-depth} F500", f"X{width + radius + 2:g} F{feed:g}",
                 "G0 Z8"]
    return said


def to_and_fro(width: int, deep: int, radius: float, step: float, depth: float, feed: float) -> list[str]:
    """Down beside the board, then without lifting."""
    left, right = -radius - 5, width + radius + 5
    said = [f"G0 X{left:g} Y0", "Z5", f"G1 Z{-depth} F500"]
    for number, y in enumerate(rows(0, deep, step)):
        said += [f"G1 Y{y:g} F{feed:g}", f"X{right if number % 2 == 0 else left:g}"]
    return said


def round_and_round(width: int, deep: int, radius: float, step: float, depth: float, feed: float) -> list[str]:
    """In from the border in rectangles, then once along the middle and the diagonals of the corners."""
    said = [f"G0 X{-radius - 5:g} Y0", "Z5", f"G1 Z{-depth} F500", f"X0 F{feed:g}"]
    inset = 0.0
    while inset < deep / 2:
        said += [f"X{inset:g} Y{inset:g}", f"X{width - inset:g}", f"Y{deep - inset:g}", f"X{inset:g}", f"Y{inset:g}"]
        inset = round(inset + step / 1.5, 3)
    middle = deep / 2
    return [*said, f"X{middle:g} Y{middle:g}", f"X{width - middle:g}"]
