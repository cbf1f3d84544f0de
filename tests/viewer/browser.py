"""A headless Chromium behind its debugging pipe, for the tests of the page.

The law: it asks the page what a person would see; nothing of the page is changed to be tested.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--hide-scrollbars", "--disable-background-networking", "--disable-component-update",
         "--disable-sync",
         "--enable-unsafe-swiftshader", "--remote-debugging-pipe"]


def chromium() -> str | None:
    """The browser's program, where the machine has one."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


class Browser:
    """A Chromium behind its debugging pipe: file descriptors 3 and 4, messages ended by a zero byte."""

    def __init__(self) -> None:
        program = chromium()
        if program is None:
            raise FileNotFoundError("no chromium on this machine")
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
