"""The page's document: what stands in it, filled into its template.

The law: templates escape everything; data for the scripts goes in as JSON that cannot end its element; the
browser is told to run only our scripts, known by their checksum, and to ask nobody for anything.
"""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from ...parser.units import Units
from ...sim.result import Result
from .. import relief as paint
from ..plain_text import steerless
from ..scene import Scene, scene_of
from ..terminal import NEVER, VERDICTS, closing_rows, counts
from .code import findings_of
from .faces import asked, faces_of
from .model import model_of
from .plan import image, plans_of
from .showing import UNTIMED
from .still import still_of
from .tables import figures_of

HERE = __name__.rpartition(".")[0]
SCRIPTS = ("unpack.js", "camera.js", "surface.js", "ridges.js", "overlay.js", "drawing.js",
           "section.js", "along.js", "sweep.js", "replay.js", "player.js", "view.js")
SPANS = (0.05, 0.2, 1.0, 5.0)  # mm of height that a section can show; the template names the same


def page_of(result: Result) -> str:
    """The whole page as HTML text. It is complete: no other file, no network."""
    scene = scene_of(result)
    scripts = [asset(name) for name in SCRIPTS]
    return steerless(template("page.html").render(
        **words_of(result, scene), style=Markup(style()), scripts=[Markup(text) for text in scripts],
        policy=policy(scripts)))


def words_of(result: Result, scene: Scene) -> dict[str, Any]:
    """Everything that the template says, in the order of the page."""
    model = model_of(result, scene)
    return {
        "title": scene.title, "verdict": VERDICTS[result.verdict], "tone": result.verdict.value,
        "counts": counts(result), "closing": [row.text for row in closing_rows(result)], "never": NEVER,
        "findings": findings_of(result), "plans": plans_of(result, scene), "still": still_of(scene),
        "image": image(scene), "model": model, "side": model["map"]["side"],
        "sign": result.job.units.sign(), "far": "m" if result.job.units is Units.MM else "ft",
        "long": "passed" in (model["replay"] or ()),
        "untimed": "" if result.job.machine.rapid else "How fast rapids go is not given: they are shown at "
                   f"{result.job.units.text(UNTIMED, 'feed')}.",
        "spans": [result.job.units.text(span) for span in SPANS],
        "obstacles": any(clamp.fixed for clamp in scene.bodies.clamps),
        "faces": faces_of(result), "asked": list(asked(result)),
        **figures_of(result),
    }


def template(name: str):
    """A template of this folder: everything that it is filled with is escaped."""
    made = Environment(loader=FunctionLoader(asset), autoescape=True, undefined=StrictUndefined,
                       trim_blocks=True, lstrip_blocks=True)
    return made.get_template(name)


def asset(name: str) -> str:
    return files(HERE).joinpath(name).read_text(encoding="utf-8")


def style() -> str:
    """The style sheet with the palette of every other view put in."""
    named = {name: paint.hexed(getattr(paint, name)) for name in
             ("AT_SIZE", "LOW", "HIGH", "LEFT_LOW", "LEFT_HIGH", "DEEP_LOW", "DEEP_HIGH", "STRUCK", "SCREW",
              "CLAMP", "INK", "PAPER", "PLAIN", "WASHER", "HOLLOW")}
    rules = "".join(f"--{name.lower().replace('_', '-')}:{color};" for name, color in named.items())
    return f":root{{{rules}}}\n{asset('page.css')}{asset('plan.css')}"


def policy(scripts: list[str]) -> str:
    """What the browser may do: run these scripts, draw; open no connection at all."""
    sums = " ".join(f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
                    for text in scripts)
    return f"default-src 'none'; script-src {sums}; style-src 'unsafe-inline'; img-src data:"
