"""`proveout demo`: write the job, check it with its three faults, then corrected; say where everything is.

The law: both jobs go through the same door as a user's. They are the same job file; their programs differ
on three lines.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from ..checking import Outputs, check_one, draw_or_say, show_report, write_outputs
from ..errors import Refused
from ..writing import write_bytes

FILES = {
    "faulty/job.toml": "job.toml", "faulty/drill.nc": "drill.faulty.nc", "faulty/face.nc": "face.faulty.nc",
    "corrected/job.toml": "job.toml", "corrected/drill.nc": "drill.nc", "corrected/face.nc": "face.nc",
}

HERE = __name__.rpartition(".")[0]


def run(folder: Path) -> int:
    """The exit status: 0 when the demo ran, whatever its verdicts are."""
    write_files(folder)
    for part, words in (("faulty", "First the job with three faults, on three lines of its programs."),
                        ("corrected", "Now the same job with those three lines corrected.")):
        print(f"{words}\n> proveout check {folder / part / 'job.toml'}\n", flush=True)
        result = check_one(folder / part / "job.toml")
        show_report(result)
        write_outputs(result, Outputs(json=str(folder / part / "result.json"),
                                      page=folder / part / "page.html"))
        drawn = draw_or_say(result, folder / part / "board.png")
        print(where(folder / part, drawn))
    return 0


def write_files(folder: Path) -> None:
    """Put the demo's files into a folder. Raises Refused where one is there that a person has changed."""
    texts = {folder / path: files(HERE).joinpath(name).read_bytes() for path, name in FILES.items()}
    for path, text in texts.items():
        if path.exists() and path.read_bytes() != text:
            raise Refused(f"{path} is there and was changed; name another folder: proveout demo FOLDER")
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        write_bytes(path, text)


def where(folder: Path, drawn: bool) -> str:
    """Where the files of one half of the demo lie."""
    names = ["job.toml", "drill.nc", "face.nc", "result.json", "page.html", *(["board.png"] if drawn else [])]
    return f"\nIn {folder.resolve()}: {', '.join(names)}\n"
