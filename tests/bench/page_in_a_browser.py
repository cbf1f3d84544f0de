"""The demo's page in a real headless Chromium. By hand: python tests/bench/page_in_a_browser.py [FOLDER]

The law: the browser is driven through its own pipe; what is asked of the page is what a person would see: the
read-out of a known place, a reason's link that brings its place to the middle, a pixel's colour there, the
section's height, and that no other file was ever asked for. Pictures are left in FOLDER.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--hide-scrollbars", "--disable-background-networking", "--disable-component-update",
         "--disable-sync",
         "--enable-unsafe-swiftshader", "--remote-debugging-pipe"]


class Browser:
    """A Chromium behind its debugging pipe: file descriptors 3 and 4, messages ended by a zero byte."""

    def __init__(self) -> None:
        program = shutil.which("chromium") or shutil.which("chromium-browser")
        if program is None:
            sys.exit("no chromium on this machine")
        to_read, self.to = os.pipe()
        self.back, to_write = os.pipe()

        def hand_over() -> None:
            a, b = os.dup(to_read), os.dup(to_write)
            os.dup2(a, 3)
            os.dup2(b, 4)

        self.folder = tempfile.mkdtemp()
        self.process = subprocess.Popen(
            [program, *FLAGS, f"--user-data-dir={self.folder}", "about:blank"], preexec_fn=hand_over,
            close_fds=False, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        self.number, self.buffer, self.events, self.session = 0, b"", [], None
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.message()
            if answer.get("id") == self.number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self.events.append(answer)

    def message(self) -> dict:
        while b"\0" not in self.buffer:
            self.buffer += os.read(self.back, 1 << 20)
        text, _, self.buffer = self.buffer.partition(b"\0")
        return json.loads(text)

    def open(self, path: Path, width: int, height: int, *, dark: bool = False) -> float:
        """Open a page; seconds until its surface was drawn."""
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
                 mobile=width < 500)
        self.ask("Emulation.setEmulatedMedia",
                 features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
                           {"name": "prefers-reduced-motion", "value": "reduce"}])
        begun = time.perf_counter()
        self.ask("Page.navigate", url=path.resolve().as_uri())
        self.until("document.querySelector('#view.ready, #view.still') !== null")
        self.run("new Promise((d) => requestAnimationFrame(() => requestAnimationFrame(d)))")
        return time.perf_counter() - begun

    def run(self, expression: str):
        answer = self.ask("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"]["exception"].get("description", "failed"))
        return answer["result"].get("value")

    def until(self, condition: str, seconds: float = 30) -> None:
        ends = time.perf_counter() + seconds
        while not self.run(condition):
            if time.perf_counter() > ends:
                raise TimeoutError(condition)
            time.sleep(0.05)

    def picture(self, path: Path, *, whole: bool = False) -> None:
        data = self.ask("Page.captureScreenshot", captureBeyondViewport=whole)["data"]
        path.write_bytes(base64.b64decode(data))

    def key(self, key: str, **more) -> None:
        text = {"text": key} if len(key) == 1 else {}
        self.ask("Input.dispatchKeyEvent", type="keyDown", key=key, **text, **more)
        self.ask("Input.dispatchKeyEvent", type="keyUp", key=key, **more)

    def mouse(self, kind: str, x: float, y: float, **more) -> None:
        self.ask("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)

    def requests(self) -> list[str]:
        self.run("0")
        return [e["params"]["request"]["url"] for e in self.events
                if e.get("method") == "Network.requestWillBeSent"]

    def complaints(self) -> list[str]:
        """Errors and exceptions; that reading a pixel back is slow is no complaint of ours."""
        return [str(e["params"]) for e in self.events if e.get("method") == "Runtime.exceptionThrown"
                or e.get("params", {}).get("entry", {}).get("level") == "error"
                or (e.get("method") == "Runtime.consoleAPICalled" and e["params"]["type"] == "error")]

    def close(self) -> None:
        self.ask("Browser.close")
        self.process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)


def check(said: str, holds: bool) -> None:
    print(("holds  " if holds else "FAILS  ") + said, flush=True)
    check.failed |= not holds  # type: ignore[attr-defined]


check.failed = False  # type: ignore[attr-defined]
RESTED = "new Promise((d) => setTimeout(d, 700))"
AIM = """(() => {
  camera.target = [%s, %s, lift(board.at(%s, %s).z)]; camera.distance = 150; view.look();
  const b = document.getElementById('stage').getBoundingClientRect();
  const p = camera.project(%s, %s, camera.target[2], b.width, b.height);
  return [p[0] + b.left, p[1] + b.top];
})()"""
PIXEL = """new Promise((done) => requestAnimationFrame(() => {
  surface.draw(false);
  const gl = surface.gl, p = new Uint8Array(4);
  gl.readPixels(surface.canvas.width / 2 + 30, surface.canvas.height / 2, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, p);
  done([...p]);
}))"""


def surface_checks(browser: Browser, page: Path) -> None:
    seconds = browser.open(page, 1440, 1000)
    check(f"the surface is drawn {seconds:.2f} s after opening", seconds < 2)
    check("the still picture stands back", browser.run(
        "getComputedStyle(document.querySelector('.still-picture')).display === 'none'"))
    browser.run("document.getElementById('above').click()")
    browser.run(RESTED)
    for x, y, z, line in ((300.0, 330.0, -0.4, None), (300.0, 62.0, None, 119)):
        px, py = browser.run(AIM % (x, y, x, y, x, y))
        browser.mouse("mouseMoved", px, py)
        browser.run(RESTED)
        told = browser.run("document.getElementById('readout').textContent")
        near = all(abs(float(told.split(letter)[1].split()[0]) - v) <= 0.25
                   for letter, v in (("X", x), ("Y", y)))
        check(f"X{x} Y{y} is read out there: {told}", near)
        if z is not None:
            check(f"its height is {z}", f"Z{z:.3f}" in told)
        if line is not None:
            check(f"line {line} is named", f"face.nc {line}" in told)


def flight_checks(browser: Browser, folder: Path) -> None:
    browser.run("document.querySelector('a.fly').click()")
    browser.run(RESTED)
    x, y, _ = map(float, browser.run("document.querySelector('a.fly').dataset.at").split(","))
    middle = browser.run("camera.target")
    check("a reason's link brings its place to the middle", np_near(middle, (x, y)))
    browser.picture(folder / "flown.png")
    pixel = browser.run(PIXEL)
    check(f"the place is coloured as too deep: {pixel}", pixel[0] > pixel[2] + 60)
    browser.run("document.getElementById('stage').focus()")
    browser.key("n")
    browser.run(RESTED)
    check("the key n goes to the second reason", browser.run("overlay.chosen") == 2)
    before = browser.run("camera.distance")
    browser.key("+")
    check("the key + goes nearer", browser.run("camera.distance") < before)
    browser.key("0")


def np_near(found: list[float], wanted: tuple[float, float]) -> bool:
    return all(abs(a - b) < 0.1 for a, b in zip(found, wanted, strict=False))


def section_checks(browser: Browser, folder: Path) -> None:
    """A section along Y through X480 meets the strip that line 71 leaves uncut, at the board's top."""
    browser.run("section.open(section.tabs[1]); section.set({x: 480, y: 0}, {x: 480, y: 400})")
    top = browser.run("Math.max(...section.points.filter((p) => p.y > 200 && p.y < 240).map((p) => p.z))")
    check(f"the section crosses the strip that was left, Z {top:.3f}", abs(top) < 0.001)
    browser.run("document.getElementById('tall').value = '0.05'; section.draw()")
    tall = browser.run("section.chart.py(-0.40) - section.chart.py(-0.39)")
    check(f"at 0.05 mm of height, 0.01 mm is {tall:.0f} pixels tall", tall > 20)
    browser.run("document.getElementById('tall').value = 'auto'; section.draw()")
    browser.run("document.getElementById('profile').scrollIntoView()")
    browser.picture(folder / "section.png")


def chart_checks(browser: Browser, folder: Path) -> None:
    browser.run("document.getElementById('along').scrollIntoView()")
    browser.run("(() => { const v = along.data.series[0].values, k = v.indexOf(Math.max(...v));"
                "along.charts[0].move(k); along.charts[0].chosen(); })()")
    browser.run(RESTED)
    browser.until("player.now && replay.moves[replay.k].line === 119 && !replay.busy")
    check("the board is shown at that move", True)
    told = browser.run("document.getElementById('along-told').textContent")
    check(f"the deepest cut is on line 119: {told}", "face.nc 119" in told)
    y = browser.run("camera.target[1]")
    check(f"and the view flew to its pass at Y60: {y:.1f}", abs(y - 60) < 13)
    browser.picture(folder / "along.png")


def pictures(browser: Browser, page: Path, folder: Path) -> None:
    for width in (1440, 820, 390):
        for dark in (False, True):
            browser.open(page, width, 1100, dark=dark)
            browser.run(RESTED)
            name = f"page-{width}-{'dark' if dark else 'light'}"
            browser.picture(folder / f"{name}.png")
            browser.picture(folder / f"{name}-whole.png", whole=True)
            over = browser.run("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            check(f"{name} is not wider than its window", over <= 0)
    paper = browser.ask("Page.printToPDF", printBackground=True, preferCSSPageSize=True)["data"]
    (folder / "page.pdf").write_bytes(base64.b64decode(paper))


def main() -> int:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp())
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "demo/faulty/page.html").is_file():
        subprocess.run([sys.executable, "-m", "proveout.viewer", "demo", str(folder / "demo")], check=True,
                       stdout=subprocess.DEVNULL)
    page = folder / "demo/faulty/page.html"
    check(f"{page.stat().st_size / 1e6:.2f} MB", page.stat().st_size < 10e6)
    browser = Browser()
    try:
        surface_checks(browser, page)
        flight_checks(browser, folder)
        section_checks(browser, folder)
        chart_checks(browser, folder)
        pictures(browser, page, folder)
        asked = {url for url in browser.requests() if not url.startswith(("data:", "about:"))}
        check(f"the only request is the file: {sorted(asked)}", asked == {page.resolve().as_uri()})
        check(f"nothing was complained about {browser.complaints()[:3]}", not browser.complaints())
    finally:
        browser.close()
    print(f"pictures in {folder}")
    return int(check.failed)  # type: ignore[attr-defined]


if __name__ == "__main__":
    sys.exit(main())
