"""The plan of the last reported stage as a picture of its own: SVG, true to scale.

The law: it is the page's own drawing, with its style written out so that any program that reads SVG 1.1
shows it; a millimetre of the board is a millimetre of the drawing.
"""

from __future__ import annotations

import re
from pathlib import Path

from markupsafe import Markup, escape

from ..sim.result import Result
from . import relief as paint
from .layout import clean
from .page.document import asset, template
from .page.plan import View, plan
from .page.still import still_of
from .scene import scene_of
from .terminal import VERDICTS
from .writing import write_bytes

SANS = "Roboto, Helvetica, Arial, sans-serif"
QUIET = "#5a5a5c"
NAMES = re.compile(r"var\(--([a-z-]+)\)")
PRODUCT = re.compile(r"calc\(([\d.]+)px \* ([\d.]+)\)")
SEE_THROUGH = re.compile(r"rgb\((\d+) (\d+) (\d+) / ([\d.]+)\)")


def draw_plan(result: Result, path: Path) -> None:
    """Write the plan as an SVG file."""
    write_bytes(path, plan_svg(result).encode())


def plan_svg(result: Result) -> str:
    """The plan of the last reported stage, its board after that stage."""
    scene, number = scene_of(result), len(result.stages) - 1
    drawn = plan(result, scene, number)
    body = template("plan.svg").render(p=drawn, still=still_of(scene))
    inner = body[body.index(">") + 1:body.rindex("</svg>")]
    return framed(drawn["view"], heading(result, drawn), inner)


def framed(view: View, words: list[str], inner: str) -> str:
    """The drawing with a line or two of words above it."""
    above = view.letter * (1.8 * len(words) + 0.8)
    top, height = view.y0 - above, view.height + above
    lines = "".join(f'<text x="{view.x0 + view.letter:.6g}" y="{top + view.letter * 1.8 * (n + 1):.6g}">'
                    f"{escape(text)}</text>" for n, text in enumerate(words))
    return (f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" class="plan" width="{view.width:.6g}mm" '
            f'height="{height:.6g}mm" viewBox="{view.x0:.6g} {top:.6g} {view.width:.6g} {height:.6g}">\n'
            f"<style>{Markup(style(view.letter))}</style>\n"
            f'<rect x="{view.x0:.6g}" y="{top:.6g}" width="{view.width:.6g}" height="{height:.6g}" '
            f'fill="{paint.hexed(paint.PAPER)}"/>\n{lines}\n{inner}</svg>\n')


def heading(result: Result, drawn: dict) -> list[str]:
    title = clean(result.job.title)
    return [f"{VERDICTS[result.verdict]}   {title}".rstrip(),
            f"{drawn['name']}: {drawn['program']}, sha256 {drawn['sha256']}, {drawn['time']}"]


def style(letter: float) -> str:
    """The plan's style sheet with every name and sum worked out."""
    palette = {name.lower().replace("_", "-"): paint.hexed(getattr(paint, name))
               for name in ("AT_SIZE", "STRUCK", "SCREW", "CLAMP", "INK", "PAPER", "WASHER", "HOLLOW")}
    known = palette | {"letter": f"{letter:.6g}px", "sans": SANS, "quiet": QUIET}
    rules = NAMES.sub(lambda found: known[found[1]], asset("plan.css"))
    rules = PRODUCT.sub(lambda found: f"{float(found[1]) * float(found[2]):.6g}px", rules)
    return SEE_THROUGH.sub(r"rgba(\1, \2, \3, \4)", rules)
