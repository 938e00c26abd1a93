"""Debian's chromium, driven through its own pipe: no library, no socket, no driver.

The protocol is that of https://chromedevtools.github.io/devtools-protocol/: JSON messages with a
zero byte behind each, read by the browser from descriptor 3 and written to descriptor 4.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
needs_chromium = pytest.mark.skipif(
    CHROMIUM is None, reason="no chromium here (Debian: apt-get install chromium)"
)
PATIENCE = 60.0  # seconds for one answer


class Tab:
    """One page in the browser, and all it said and asked for.

    Attributes
    ----------
    said : list of str
        What stood on the console, and errors.
    asked : list of str
        Addresses that were requested.
    """

    def __init__(self, to: int, out: int) -> None:
        self.to, self.out = to, out
        self.number, self.rest = 0, b""
        self.said: list[str] = []
        self.asked: list[str] = []
        self.happened: list[str] = []
        target = self.call("Target.createTarget", {"url": "about:blank"})["targetId"]
        self.session: str | None = None
        attached = self.call("Target.attachToTarget", {"targetId": target, "flatten": True})
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, values: dict[str, Any] | None = None) -> Any:
        """Call one method and return its result."""
        self.number += 1
        message = {"id": self.number, "method": method, "params": values or {}}
        if getattr(self, "session", None):
            message["sessionId"] = self.session
        os.write(self.to, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE
        while True:
            answer = self._next(until)
            if answer.get("id") == self.number:
                assert "error" not in answer, answer["error"]
                return answer["result"]
            self._heard(answer)

    def _next(self, until: float) -> dict[str, Any]:
        while b"\0" not in self.rest:
            ready, _, _ = select.select([self.out], [], [], max(until - time.monotonic(), 0.0))
            assert ready, "the browser does not answer"
            self.rest += os.read(self.out, 1 << 20)
        message, _, self.rest = self.rest.partition(b"\0")
        told: dict[str, Any] = json.loads(message)
        return told

    def _heard(self, event: dict[str, Any]) -> None:
        method, values = event.get("method", ""), event.get("params", {})
        self.happened.append(method)
        if method == "Network.requestWillBeSent":
            self.asked.append(values["request"]["url"])
        elif method == "Log.entryAdded":
            self.said.append(values["entry"]["text"])
        elif method in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown"):
            self.said.append(json.dumps(values))

    def open(self, path: Path, width: int = 1200, height: int = 900) -> float:
        """Open a file and return the seconds until it was loaded."""
        self.call("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": False,
        })  # fmt: skip
        self.happened.clear()
        start = time.perf_counter()
        self.call("Page.navigate", {"url": path.as_uri()})
        until = time.monotonic() + PATIENCE
        while "Page.loadEventFired" not in self.happened:
            self._heard(self._next(until))
        self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        return time.perf_counter() - start

    def run(self, script: str) -> Any:
        """Evaluate a script beside the page and return its value."""
        result = self.call("Runtime.evaluate", {
            "expression": script, "returnByValue": True, "awaitPromise": True,
        })  # fmt: skip
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def press(self, key: str) -> None:
        """Press one key, such as Tab or ArrowRight."""
        code = {"Tab": 9, "Enter": 13, " ": 32, "ArrowRight": 39, "ArrowDown": 40}[key]
        text = {"Enter": "\r", " ": " "}.get(key, "")
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", {
                "type": kind, "key": key, "code": key if key != " " else "Space",
                "windowsVirtualKeyCode": code, "text": text if kind == "keyDown" else "",
            })  # fmt: skip

    def prefer(self, scheme: str) -> None:
        """Prefer light or dark."""
        feature = {"name": "prefers-color-scheme", "value": scheme}
        self.call("Emulation.setEmulatedMedia", {"features": [feature]})

    def pdf(self) -> bytes:
        """Print to paper, A4 as the page asks."""
        told = self.call("Page.printToPDF", {"preferCSSPageSize": True})
        return base64.b64decode(told["data"])

    def picture(self, path: Path) -> None:
        """Write a picture of the whole page."""
        told = self.call("Page.captureScreenshot", {"captureBeyondViewport": True, "format": "png",
                                                    "clip": self._whole()})  # fmt: skip
        path.write_bytes(base64.b64decode(told["data"]))

    def _whole(self) -> dict[str, float]:
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        return {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}


@contextmanager
def browser() -> Iterator[Tab]:
    """Start chromium without a window and end it afterwards, by its own number."""
    assert CHROMIUM is not None
    read_here, write_there = os.pipe()
    read_there, write_here = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as home:
        options = [
            "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
            "--disable-dev-shm-usage", "--disable-background-networking", "--disable-sync",
            f"--user-data-dir={home}", "--remote-debugging-pipe", "about:blank",
        ]  # fmt: skip

        def connect() -> None:  # in the child: the browser wants its pipes at 3 and 4
            far = [fcntl.fcntl(fd, fcntl.F_DUPFD, 20) for fd in (read_there, write_there)]
            os.dup2(far[0], 3)
            os.dup2(far[1], 4)

        started = subprocess.Popen(
            [CHROMIUM, *options], pass_fds=(3, 4), preexec_fn=connect,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(read_there)
        os.close(write_there)
        tab = None
        try:
            tab = Tab(write_here, read_here)
            yield tab
        finally:
            if tab is not None:
                tab.session = None
                try:
                    tab.call("Browser.close")
                except (AssertionError, OSError):
                    started.terminate()
            else:
                started.terminate()
            try:
                started.wait(timeout=10)
            except subprocess.TimeoutExpired:
                started.kill()
            os.close(write_here)
            os.close(read_here)
