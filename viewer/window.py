"""The window: a result to turn in the hands and to play, forward and back.

The law: what is shown is the player's and the scene's; a key does one thing, and every key is on the
screen.
"""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import Any

import numpy as np
import pyvista as pv

from ..sim.result import Result
from . import relief as paint
from .across import Across
from .actors import LAYERS, Actors
from .aim import aim
from .layout import clean, cut
from .legend import shortened, swatches
from .overlay import Overlay
from .player import Player
from .terminal import VERDICTS

SIZE = (1360, 860)
TICK = 60  # ms between two pictures while it plays
STILL = 3  # pixels within which a press and a release are a click
CLICKED = "LeftButtonPressEvent", "LeftButtonReleaseEvent"

KEYS = (  # key symbols, as shown, what it does
    (("space",), "space", "run, hold", "run_or_hold"),
    (("Right", "Left"), "right, left", "a move on, back", "step"),
    (("Down", "Up"), "down, up", "a line on, back", "line"),
    (("n", "b"), "n, b", "next reason, one before", "reason"),
    (("period", "comma"), ". ,", "faster, slower", "faster"),
    (("Home", "End"), "home, end", "the start, the end", "ends"),
    (("c",), "c", "other colours", "recolour"),
    (("plus", "minus"), "+ -", "heights more, less", "restretch"),
    (("x", "y"), "x, y", "cut at an X, at a Y", "section"),
    (("bracketright", "bracketleft"), "] [", "shift that cut", "shift"),
    (tuple(LAYERS), "1 to 6", "screws, clamps, path,\n             reasons, cutter, ridges", "layer"),
    (("p",), "p", "save a picture", "save"),
    (("h",), "h", "hide these lines, show them", "hide"),
    (("q", "Escape"), "q", "close", "close"),
)
MOUSE = (("drag", "turn; with shift: move"), ("wheel", "nearer, farther"), ("click", "what lies there"))
ALSO = {"equal": "plus", "KP_Add": "plus", "KP_Subtract": "minus", "underscore": "minus"}


class Window:
    """A result in a plotter. `note` is the last thing that was said about a key."""

    def __init__(self, result: Result, plotter: pv.Plotter, threads: int | None = None) -> None:
        self.result, self.plotter = result, plotter
        self.player = Player(result, threads)
        self.running, self.since, self.saved = False, 0.0, 0
        self.place: tuple[float, float, float] | None = None  # what was looked at last
        self.pressed: tuple[int, int] | None = None
        self.rested: tuple[float, ...] = ()
        self._told: dict[str, list[tuple[paint.Rgb, str]]] = {}
        self._slider: Any = None
        plotter.background_color = pv.Color(paint.hexed(paint.PAPER))
        self.actors = Actors(plotter, self.player)
        self.across = Across(plotter, self.player, self.actors)
        self.overlay = Overlay(plotter)
        self._words()
        self._aim()
        self._listen()
        self.show()

    # --- setting up -------------------------------------------------------------------------------
    def _words(self) -> None:
        scene, say = self.player.scene, self.overlay.say
        say("verdict", VERDICTS[scene.verdict], (0, 1), size=30, bold=True)
        say("title", shortened(clean(scene.title), 70), (0, 0.945), size=17)
        rows = [*MOUSE, *((shown, does) for _, shown, does, _ in KEYS)]
        text = "\n".join(f"{shown:>11}  {does}" for shown, does in rows)
        say("keys", text, (0, 0.89), size=14, columns=True)
        say("read", "click on the board: what lies there", (1, 1))
        say("reason", "", (0, 0.175))
        say("status", "", (0, 0.085))

    def _aim(self) -> None:
        """Look at the whole board, with what stands about it, from where the operator stands."""
        relief, level = self.player.scene.relief, self.player.terrain.level
        outlines = [clamp.outline for clamp in self.player.scene.bodies.clamps]
        plan = np.concatenate([np.column_stack((relief.x[[0, -1]], relief.y[[0, -1]])), *outlines])
        (x0, y0), (x1, y1) = plan.min(axis=0), plan.max(axis=0)
        aim(self.plotter, np.array([(x, y, level) for x in (x0, x1) for y in (y0, y1)]))

    def _listen(self) -> None:
        plotter: Any = self.plotter  # its decorators hide its signatures
        iren: Any = plotter.iren
        plotter.enable_terrain_style(mouse_wheel_zooms=True, shift_pans=True)
        iren.clear_key_event_callbacks()
        iren.style.AddObserver("CharEvent", lambda *_: None)  # the library's own keys
        iren.add_observer("KeyPressEvent", lambda *_: self.key(iren.interactor.GetKeySym()))
        iren.add_observer(CLICKED[0], lambda *_: self._press(iren.get_event_position()))
        iren.add_observer(CLICKED[1], lambda *_: self._release(iren.get_event_position()))
        iren.add_observer("TimerEvent", lambda *_: self.tick(monotonic()))
        total = max(self.player.timeline.seconds, 1e-3)
        self._slider = plotter.add_slider_widget(
            self._slid, (0.0, total), value=self.player.time, pointa=(0.016, 0.035), pointb=(0.984, 0.035),
            color=paint.hexed(paint.INK), interaction_event="always", fmt="", slider_width=0.03,
            tube_width=0.005)
        bar = self._slider.GetRepresentation()
        bar.SetEndCapLength(0.002)
        bar.SetEndCapWidth(0.015)
        bar.SetSliderLength(0.012)
        iren.initialize()
        iren.create_timer(TICK)

    # --- time ---------------------------------------------------------------------------------------
    def tick(self, now: float) -> None:
        """A moment of real time went by."""
        if not self.running:
            self.settle()
            return
        self.player.to_time(self.player.time + (now - self.since) * self.player.speed)
        self.since = now
        self.running = self.player.moves < len(self.player.timeline)
        self.show()

    def settle(self) -> None:
        """Once the camera rests, what it is near to is shown more closely."""
        place = (*self.plotter.camera.position, *self.plotter.camera.focal_point)
        if place == self.rested and self.actors.look():
            self.plotter.render()
        self.rested = place

    def _slid(self, value: float) -> None:
        if abs(value - self.player.time) > 1e-6:
            self.player.to_time(value)
            self.show()

    def show(self) -> None:
        """Everything as it is now."""
        player = self.player
        self.actors.follow()
        self.overlay.say("status", player.status())
        state = f"{'running' if self.running else 'held'}, {player.speed} times as fast"
        heading = (f"{state}\nheights stretched {self.actors.stretch:g} times\n"
                   f"colours: {paint.COLOURINGS[self.actors.colouring]}")
        self.overlay.key(heading, self._meanings(self.actors.colouring), 0.235, 0.2)
        if self._slider is not None:
            self._slider.GetRepresentation().SetValue(player.time)
        self.across.draw()
        self.plotter.render()

    def _meanings(self, colouring: str) -> list[tuple[paint.Rgb, str]]:
        """What the colours mean: looked up in the whole map once."""
        if colouring not in self._told:
            self._told[colouring] = swatches(self.player.scene, colouring)
        return self._told[colouring]

    # --- keys ---------------------------------------------------------------------------------------
    def key(self, symbol: str) -> None:
        """A key was pressed."""
        symbol = ALSO.get(symbol, symbol)
        for symbols, _, _, name in KEYS:
            if symbol in symbols:
                getattr(self, f"do_{name}")(symbols.index(symbol))
                return

    def do_run_or_hold(self, _: int) -> None:
        self.running = not self.running
        if self.running and self.player.moves >= len(self.player.timeline):
            self.player.to(0)
        self.since = monotonic()
        self.show()

    def do_step(self, back: int) -> None:
        self._held(lambda: self.player.step(-1 if back else 1))

    def do_line(self, back: int) -> None:
        self._held(self.player.line_back if back else self.player.line_on)

    def do_ends(self, end: int) -> None:
        self._held(lambda: self.player.to(len(self.player.timeline) if end else 0))

    def _held(self, going: Any) -> None:
        self.running = False
        going()
        self.show()

    def do_reason(self, back: int) -> None:
        self.running = False
        mark = self.player.to_reason(-1 if back else 1)
        if mark is None:
            self.overlay.say("reason", "no reason has a place")
        else:
            number = (self.player.reason or 0) + 1
            self.overlay.say("reason", f"{number}.  {cut(clean(mark.message), 110)}")
            self.place = mark.at
            self.plotter.camera.focal_point = (*mark.at[:2], self.actors.z(mark.at[2]))
        self.show()

    def do_faster(self, slower: int) -> None:
        self.player.faster(-1 if slower else 1)
        self.show()

    def do_recolour(self, _: int) -> None:
        self.actors.recolour()
        self.show()

    def do_restretch(self, less: int) -> None:
        self.actors.restretch(-1 if less else 1)
        self.show()

    def do_layer(self, number: int) -> None:
        self.actors.toggle(list(LAYERS.values())[number])
        self.plotter.render()

    def do_hide(self, _: int) -> None:
        self.overlay.tell(not self.overlay.told)
        self.plotter.render()

    def do_save(self, _: int) -> None:
        """A picture of the window beside the job, under a name that is free."""
        while (path := Path(f"proveout-{self.saved + 1}.png")).exists():
            self.saved += 1
        self.plotter.screenshot(str(path))  # type: ignore[call-arg]
        self.overlay.say("read", f"saved as {path.resolve()}")
        self.plotter.render()

    def do_close(self, _: int) -> None:
        self.running = False
        self.plotter.iren.terminate_app()  # type: ignore[union-attr]

    # --- cutting across -----------------------------------------------------------------------------
    def do_section(self, axis: int) -> None:
        """Cut the board across at one X or one Y, where it was looked at last; the same key again: whole."""
        self.across.toggle("xy"[axis], self.place)
        self.show()

    def do_shift(self, back: int) -> None:
        self.across.shift(-1 if back else 1)
        self.show()

    # --- the pointer --------------------------------------------------------------------------------
    def _press(self, at: Any) -> None:
        self.pressed = (int(at[0]), int(at[1]))

    def _release(self, at: Any) -> None:
        if self.pressed and np.hypot(at[0] - self.pressed[0], at[1] - self.pressed[1]) <= STILL:
            self.pick(int(at[0]), int(at[1]))
        self.pressed = None

    def pick(self, across: int, up: int) -> None:
        """Read out what lies under a pixel, from the lower left corner."""
        from vtkmodules.vtkRenderingCore import vtkCellPicker
        picker = vtkCellPicker()
        picker.SetTolerance(0.0005)
        picker.PickFromListOn()
        for actor in self.actors.ground.actors:
            picker.AddPickList(actor)
        hit = picker.Pick(across, up, 0, self.plotter.renderer)
        x, y, _ = picker.GetPickPosition()
        self.overlay.say("read", self.player.read_out(x, y) if hit else "no board there")
        self.place = (x, y, self.player.height(x, y)) if hit else self.place
        self.actors.point(self.place if hit else None)
        self.plotter.render()


def open_window(result: Result, threads: int | None = None) -> None:
    """Show a result until its window is closed."""
    plotter = pv.Plotter(window_size=list(SIZE), title=f"proveout: {clean(result.job.title) or 'a job'}")
    Window(result, plotter, threads)
    plotter.show()
