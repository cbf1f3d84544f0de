"""Drives the window in a process of its own: a demo job in, what was seen out as JSON. No test by itself."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pyvista as pv
from proveout.parser.jobfile import read_job
from proveout.sim.fitting import KNOWN
from proveout.sim.verify import verify
from proveout.viewer.window import KEYS, Window


def main(job: str, folder: str) -> None:
    plotter = pv.Plotter(off_screen=True, window_size=[1000, 700])
    window = Window(verify(read_job(Path(job), KNOWN)), plotter)
    plotter.show(auto_close=False, interactive=False)
    seen: dict = {"words": window.overlay.text("keys"), "verdict": window.overlay.text("verdict")}

    def press(*symbols: str) -> None:
        """As the library does it: the key's name, then the event."""
        for symbol in symbols:
            plotter.iren.interactor.SetKeySym(symbol)
            plotter.iren.interactor.InvokeEvent("KeyPressEvent")

    def looks() -> np.ndarray:
        return np.asarray(plotter.screenshot(return_img=True), float)

    press("Home")
    start = looks()
    seen["at start"] = window.player.moves
    press("Right", "Right", "Left", "Down")
    seen["after steps"] = window.player.moves
    press("n")
    seen["reason"] = [window.overlay.text("reason"), window.player.line]
    seen["moved"] = float(np.abs(looks() - start).mean())
    press("End")
    before = looks()
    press("c")
    seen["recoloured"] = float(np.abs(looks() - before).mean())
    press("c", "c", "c")
    seen["colours again"] = float(np.abs(looks() - before).mean())
    press("1")
    seen["hidden"] = sorted(window.actors.hidden)
    press("1", "y", "bracketright")
    seen["cut"] = [window.across.axis, window.across.at]
    press("y", "plus")
    seen["stretch"] = window.actors.stretch
    press("minus", "h")
    seen["keys shown"] = window.overlay.shown("keys")
    press("h", "space")
    seen["running"] = [window.running, window.player.moves]
    window.tick(window.since + 20.0)
    seen["after a while"] = window.player.time
    window._slid(100.0)
    seen["scrubbed"] = [window.player.time, window.overlay.text("status")]
    press("End")
    window.pick(500, 350)
    seen["read"] = window.overlay.text("read")
    window.pick(3, 3)
    seen["read beside"] = window.overlay.text("read")
    camera = plotter.camera
    camera.focal_point, camera.position = (300, 210, 0), (300, 150, 60)
    for _ in range(2):  # the camera rests
        window.tick(0.0)
    seen["close"] = [window.actors.ground.side, len(window.actors.ground.actors)]
    close = looks()
    window.pick(500, 350)
    seen["read close"] = window.overlay.text("read")
    press("Home")
    seen["cut close"] = float(np.abs(looks() - close).mean())
    press("p")
    seen["unknown key"] = press("F7")
    seen["every key"] = [name for *_, name in KEYS if not hasattr(window, f"do_{name}")]
    press("q")
    Path(folder, "seen.json").write_text(json.dumps(seen))


if __name__ == "__main__":
    main(*sys.argv[1:])
