"""The pages of viewer/kinds: what a finding kind means, why it matters, what to do.

The law: a page is the one place where a kind is explained; screens quote it, they do not retell it.
"""

from __future__ import annotations

import difflib
import re
import sys
from importlib.resources import files

from ..parser.finding import registry
from .errors import Refused

AT_THE_MACHINE = re.compile(r"^\*\*At the machine:\*\*\s*(.+?)(?:\n\s*\n|\Z)", re.MULTILINE | re.DOTALL)


def page(kind: str) -> str:
    """The whole page of a kind, or of "codes" and "dialects", Markdown. Raises LookupError with the nearest
    kind for an unknown one."""
    if kind == "codes":
        from . import codes
        return codes.page()
    if kind == "dialects":
        from . import dialects
        return dialects.page()
    if kind not in registry():
        near = difflib.get_close_matches(kind, registry(), n=1, cutoff=0.5)
        hint = f'; did you mean "{near[0]}"?' if near else "; `proveout explain` lists them all"
        raise LookupError(f'there is no finding kind "{kind}"{hint}')
    return files(f"{__package__}.kinds").joinpath(f"{kind}.md").read_text(encoding="utf-8")


def why(kind: str) -> str:
    """The first sentence that the page says about what happens at the machine, "" where there is none."""
    try:
        text = page(kind)
    except (LookupError, FileNotFoundError):
        return ""
    found = AT_THE_MACHINE.search(text)
    paragraph = " ".join(found.group(1).split()) if found else ""
    return re.split(r"(?<=[.!?]) ", paragraph)[0].replace("`", "").replace("*", "")


def show_page(kind: str) -> int:
    """Print a kind's page, or every kind with its severity when none is named; the exit status."""
    if not kind:
        print("\n".join(f"{name:<18} {entry.severity.word}" for name, entry in registry().items()))
        return 0
    try:
        text = page(kind)
    except LookupError as unknown:
        raise Refused(str(unknown.args[0])) from None
    if not sys.stdout.isatty():
        print(text.rstrip())
        return 0
    from rich.console import Console
    from rich.markdown import Markdown
    console = Console()
    console.print(Markdown(text), width=min(console.width, 100))
    return 0
