"""The picture: its colours where they belong, its palette for every eye, and a sentence where none can be."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from PIL import Image
from proveout.viewer import picture
from proveout.viewer import relief as paint
from proveout.viewer.errors import Refused
from proveout.viewer.look import COLOURINGS, VIEWS, Look, look
from proveout.viewer.picture import SOFTWARE, WINDOW, NoPicture, draw, ways
from proveout.viewer.scene import scene_of

# Severity 1.0 of the three kinds, for linear RGB: Machado, Oliveira and Fernandes, "A Physiologically-based
# Model for Simulation of Color Vision Deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291.
SIGHT = {
    "usual": np.eye(3),
    "protan": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                        [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                        [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                        [0.004733, 0.691367, 0.303900]]),
}
MEANINGS = {name: getattr(paint, name) for name in (
    "AT_SIZE", "LEFT_HIGH", "DEEP_HIGH", "STRUCK", "CLAMP", "SCREW")}


def lab(rgb: np.ndarray) -> np.ndarray:
    """Linear RGB (sRGB primaries) to CIE L*a*b*, D65; IEC 61966-2-1 and CIE 15."""
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ rgb
    f = np.array([v ** (1 / 3) if v > 0.008856 else 7.787 * v + 16 / 116 for v in xyz / (0.9505, 1, 1.089)])
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def linear(color) -> np.ndarray:
    part = np.array(color) / 255
    return np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)


@pytest.mark.parametrize("eye", SIGHT)
def test_no_two_meanings_look_alike_to_any_eye(eye):
    """A difference of 10 in L*a*b* is plain at a glance (common practice, no published source); nearly twice
    that is held, for dust on the screen."""
    seen = {name: lab(np.clip(SIGHT[eye] @ linear(color), 0, 1)) for name, color in MEANINGS.items()}
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > 19, (one, other)


def test_left_and_deep_differ_from_size_in_a_grey_print():
    light = {name: lab(linear(color))[0] for name, color in MEANINGS.items()}
    assert light["AT_SIZE"] - light["LEFT_HIGH"] > 20
    assert light["AT_SIZE"] - light["DEEP_HIGH"] > 20


def test_colours_say_where_the_surface_is(result):
    """Level places wear the palette's own colours: nothing shades them."""
    relief = scene_of(result).relief
    seen = paint.colours(relief)
    assert tuple(seen[10, 50]) == paint.DEEP_HIGH  # 3.6 too deep
    assert tuple(seen[30, 50]) == paint.AT_SIZE
    assert tuple(seen[60, 80]) != paint.AT_SIZE
    blue = seen[70, 75].astype(int)
    assert blue[2] > blue[0] + 40  # 0.4 left uncut
    off_board = replace(relief, heights=np.where(relief.x < 5, np.nan, relief.heights).astype(np.float32))
    assert tuple(paint.colours(off_board)[30, 2]) == paint.PAPER


def near(seen: np.ndarray, color: tuple[int, int, int], tolerance: int = 12) -> np.ndarray:
    """(n, 2) row and column of the pixels of about a colour, as parts of the picture, from the top left."""
    alike = np.abs(seen[..., :3].astype(int) - color).max(axis=-1) <= tolerance
    return np.argwhere(alike) / seen.shape[:2]


def drawn_or_left_out(result, target, folder, wanted: Look | None = None) -> None:
    """Draw it. Where no graphics library can, the sentence says so, nothing is left behind, and what the
    picture shows is not tested: skipped, and counted."""
    said = None
    try:
        draw(result, target, wanted or Look((800, 500)))
    except NoPicture as why:
        said = str(why)
    if said is not None:
        assert "libosmesa6" in said or not sys.platform.startswith("linux")
        assert not list(folder.iterdir())
        pytest.skip("no graphics library here can draw")


def test_the_picture_shows_each_thing_where_it_is(standing_result, tmp_path):
    """In front is below, right is right."""
    target = tmp_path / "board.png"
    drawn_or_left_out(standing_result, target, tmp_path)
    seen = np.asarray(Image.open(target).convert("RGB"))
    assert seen.shape == (500, 800, 3)
    deep, struck, paper = (near(seen, c) for c in (paint.DEEP_HIGH, paint.STRUCK, paint.PAPER))
    left = near(seen, tuple(paint.colours(scene_of(standing_result).relief)[70, 75]))
    assert min(len(deep), len(left), len(struck)) > 100
    on_board = near(seen, paint.AT_SIZE)
    in_board = (deep[:, 1] > 0.2) & (deep[:, 1] < 0.8) & (deep[:, 0] > 0.2)  # not the legend's
    assert np.median(deep[in_board, 0]) > np.median(on_board[:, 0])
    assert np.median(left[:, 0]) < np.median(deep[in_board, 0])
    assert np.median(left[:, 1]) > np.median(on_board[:, 1])
    assert len(paper) > 0.2 * 500 * 800
    assert list(tmp_path.iterdir()) == [target]


def test_a_child_that_dies_costs_a_sentence(result, tmp_path, monkeypatch):
    """What a missing graphics library does to a process: it is killed, no exception is raised in it."""
    died = "import ctypes; ctypes.string_at(0)"
    monkeypatch.setattr(picture, "CHILD", (sys.executable, "-c", died))
    with pytest.raises(NoPicture, match="was not drawn") as why:
        draw(result, tmp_path / "board.png")
    assert "The verdict stands without it." in str(why.value)
    assert "\n" not in str(why.value)
    assert not list(tmp_path.iterdir())


def test_what_a_child_says_last_is_in_the_sentence(result, tmp_path, monkeypatch):
    monkeypatch.setattr(picture, "CHILD", (sys.executable, "-c", "raise SystemExit('no window here')"))
    with pytest.raises(NoPicture, match="no window here"):
        draw(result, tmp_path / "board.png")


def test_without_a_screen_memory_is_drawn_into(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    assert [way[WINDOW] for way in ways({"PATH": "x"})] == list(SOFTWARE)
    assert [way.get(WINDOW) for way in ways({"DISPLAY": ":0"})] == [None, *SOFTWARE]
    monkeypatch.setattr(sys, "platform", "darwin")
    assert list(ways({"PATH": "x"})) == [{"PATH": "x"}]


def test_every_view_and_colouring_is_drawn(demo_result, tmp_path):
    """No two are alike."""
    for view, colouring in zip(VIEWS, [*COLOURINGS, "wanted"], strict=True):
        drawn_or_left_out(demo_result, tmp_path / f"{view}.png", tmp_path, Look((400, 250), view, colouring))
    seen = [np.asarray(Image.open(tmp_path / f"{view}.png").convert("RGB"), float) for view in VIEWS]
    for one, other in combinations(seen, 2):
        assert np.abs(one - other).mean() > 3


@pytest.mark.parametrize("size", [(800, 500), (500, 800)])
@pytest.mark.parametrize("view", ["operator", "above"])
def test_the_board_lies_the_right_way_round(standing_result, tmp_path, view, size):
    """The fixture's front is too deep, its back right was left: from in front or above, the one lies below
    the other and the other to the right."""
    drawn_or_left_out(standing_result, tmp_path / "board.png", tmp_path, Look(size, view))
    seen = np.asarray(Image.open(tmp_path / "board.png").convert("RGB"))
    wide = 0.72 if size[0] > size[1] else 1.0  # without the legend
    seen = seen[int(0.22 * size[1]):, :int(wide * size[0])]
    deep, left = near(seen, paint.DEEP_HIGH), near(seen, left_colour(standing_result))
    assert min(len(deep), len(left)) > 100
    assert np.median(deep[:, 0]) > np.median(left[:, 0])
    assert np.median(left[:, 1]) > np.median(deep[:, 1])


def left_colour(result) -> tuple[int, ...]:
    return tuple(paint.colours(scene_of(result).relief)[70, 75])


@pytest.mark.parametrize("typed", [("5x5", None, None), ("wide", None, None), (None, "moon", None),
                                   (None, None, "red"), ("1600x99999", None, None)])
def test_a_wrong_look_is_told_with_what_is_right(typed):
    with pytest.raises(Refused, match=r"1600x1000|operator, above|wanted, height"):
        look(*typed)


def test_a_look_is_what_was_typed():
    assert look("800 X 600", "above", "line") == Look((800, 600), "above", "line")
    assert look(None, None, None) == Look()
