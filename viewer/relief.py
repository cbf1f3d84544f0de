"""Colours of a surface: how far each place lies from the wanted face, shaded as if lit from the back left.

Reasons for the palette. A place is neutral (the sandy grey of a faced board) within tolerance, blue where
material was left and orange where too much was taken. Blue against orange is the pair that every common
colour weakness keeps apart (tests hold each pair of colours to a distance under a published simulation of
the three kinds), and both differ from the neutral in lightness too, so a grey print and a dusty screen
still show them. Red and green say nothing here: no green stands for "good". What is struck is a dark
magenta, used for nothing else; screws are nearly black and clamps
pale slate, far in lightness from it, since to some eyes magenta is only another grey.

The law: a colour is a function of the Scene alone; nothing is chosen by what looks striking.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .look import COLOURINGS as COLOURINGS
from .scene import Relief

Rgb = tuple[int, int, int]

AT_SIZE: Rgb = (221, 210, 190)
PLAIN: Rgb = (186, 180, 170)  # board where no face is wanted
LEFT_LOW: Rgb = (142, 186, 229)  # just above tolerance
LEFT_HIGH: Rgb = (20, 74, 158)
DEEP_LOW: Rgb = (250, 176, 92)  # just below tolerance
DEEP_HIGH: Rgb = (190, 78, 0)
HOLLOW: Rgb = (120, 112, 102)  # inside holes and recesses
STRUCK: Rgb = (150, 0, 104)
SCREW: Rgb = (34, 36, 42)
CLAMP: Rgb = (134, 158, 170)
INK: Rgb = (28, 30, 34)
PAPER: Rgb = (247, 246, 243)
RAPID: Rgb = (28, 30, 34)
WASHER: Rgb = (150, 154, 160)
FAINT: Rgb = (198, 195, 190)
SIDE: Rgb = (168, 150, 122)
CUTTER: Rgb = (92, 104, 112)
RIDGE: Rgb = LEFT_HIGH  # a ridge is material that was left

LOW: Rgb = (38, 62, 112)  # colours of height: from low to high
HIGH: Rgb = (246, 232, 178)
TINTS: tuple[Rgb, ...] = (  # neighbouring lines or stages differ in lightness, then in hue
    (226, 214, 190), (150, 176, 200), (206, 178, 128), (116, 146, 178), (238, 226, 206), (182, 196, 206))
NEAR = 2.0  # mm about the board's level that colours of height span at most
LEAST = 0.05  # mm on either side that they span at least

FULL = 1.0  # mm beyond tolerance at which a colour is at its strongest
LIGHT = np.array([-0.45, 0.55, 0.70])
STEEP = 4.0  # how much slopes are exaggerated in the shading: passes of 0.1 mm become visible


def hexed(color: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*color)


def colours(relief: Relief) -> NDArray[np.uint8]:
    """(ny, nx, 3) colour of every cell; off the board it is the paper's."""
    light = shade(relief)[..., None]
    base = _base(relief)
    painted = np.clip(base * light, 0, 255)
    painted[np.isnan(relief.heights)] = PAPER
    return painted.astype(np.uint8)


def painted(relief: Relief, colouring: str, number: NDArray[np.integer] | None = None) -> NDArray[np.uint8]:
    """(ny, nx, 3) colour of every cell in one of the COLOURINGS; `number` (ny, nx) is the line or stage that
    cut each cell, below 0 where none did."""
    if colouring == "wanted":
        return colours(relief)
    base = _by_height(relief) if colouring == "height" or number is None else by_number(number)
    lit = np.clip(base * shade(relief)[..., None], 0, 255)
    lit[np.isnan(relief.heights)] = PAPER
    return lit.astype(np.uint8)


def height_span(relief: Relief) -> tuple[float, float]:
    """The heights that the colours of height span: those about the board's level, which is the colour of
    neither end."""
    level = float(np.nanmedian(relief.heights))
    near = relief.heights[np.abs(relief.heights - level) <= NEAR]
    low, high = (float(near.min()), float(near.max())) if near.size else (level, level)
    return (min(low, level - LEAST, level - (high - level) / 2),
            max(high, level + LEAST, level + (level - low) / 2))


def _by_height(relief: Relief) -> NDArray[np.float32]:
    low, high = height_span(relief)
    part = np.nan_to_num(np.clip((relief.heights - low) / (high - low), 0, 1))[..., None]
    return ((1 - part) * np.array(LOW) + part * np.array(HIGH)).astype(np.float32)


def by_number(number: NDArray[np.integer]) -> NDArray[np.float32]:
    """A tint for each line or stage; untouched board has none."""
    base = np.empty((*number.shape, 3), np.float32)
    base[:] = PLAIN
    cut = number >= 0
    _, rank = np.unique(number[cut], return_inverse=True)  # passes stand any number of lines apart
    base[cut] = np.array(TINTS, np.float32)[rank % len(TINTS)]
    return base


def _base(relief: Relief) -> NDArray[np.float32]:
    base = np.empty((*relief.heights.shape, 3), np.float32)
    base[:] = PLAIN
    wanted = ~np.isnan(relief.off)
    base[wanted] = AT_SIZE
    for side, low, high in ((relief.missed, LEFT_LOW, LEFT_HIGH), (relief.too_deep, DEEP_LOW, DEEP_HIGH)):
        base[side] = ramp(np.abs(relief.off[side]) - relief.tolerance, low, high)
    face = np.nanmedian(relief.heights)
    base[~wanted & (relief.heights < face - FULL)] = HOLLOW
    return base


def ramp(beyond: NDArray[np.floating], low: Rgb, high: Rgb) -> NDArray[np.float32]:
    """(n,) mm beyond tolerance to (n, 3) colours from low to high."""
    part = np.clip(beyond / FULL, 0, 1)[:, None]
    return ((1 - part) * np.array(low) + part * np.array(high)).astype(np.float32)


def shade(relief: Relief) -> NDArray[np.float32]:
    """Light on each cell, 1 for a level one, from the slopes of the whole data."""
    cell = float(relief.x[1] - relief.x[0]) if len(relief.x) > 1 else 1.0
    heights = np.nan_to_num(relief.heights, nan=relief.bottom)
    if min(heights.shape) < 2:
        return np.ones(heights.shape, np.float32)
    dy, dx = (np.clip(g * STEEP, -1.2, 1.2) for g in np.gradient(heights, cell))
    light = LIGHT / np.linalg.norm(LIGHT)
    lit = (light[2] - dx * light[0] - dy * light[1]) / np.sqrt(1 + dx * dx + dy * dy)
    return np.clip(lit / light[2], 0.55, 1.25).astype(np.float32)
