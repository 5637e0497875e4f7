"""A headless Chromium of the machine, spoken to through the pipe of its DevTools protocol; no other package needed."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import time
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def find() -> str | None:
    """The browser's program, None if there is none on the path."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Browser:
    """A browser with one page open. messages : of its console and errors; requests : addresses that it asked for"""

    def __init__(self, folder: Path) -> None:
        program = find()
        assert program is not None
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()
        self._number, self._left = 0, b""
        self.events: list[dict[str, Any]] = []

        def pipes() -> None:
            # The protocol is read from descriptor 3 and written to 4; those that stand there may be in the way.
            a, b = os.dup2(to_read, 60), os.dup2(to_write, 61)
            os.dup2(a, 3)
            os.dup2(b, 4)

        self._process = subprocess.Popen(
            [
                program,
                "--headless",
                "--remote-debugging-pipe",
                "--no-sandbox",
                "--disable-gpu",
                "--no-first-run",
                "--disable-extensions",
                "--disable-background-networking",
                "--disable-dev-shm-usage",
                f"--user-data-dir={folder}",
                "about:blank",
            ],
            preexec_fn=pipes,
            pass_fds=(3, 4),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        target = next(t for t in self.call("Target.getTargets")["targetInfos"] if t["type"] == "page")
        self._session = None
        self._session = self.call("Target.attachToTarget", targetId=target["targetId"], flatten=True)["sessionId"]
        for part in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{part}.enable")

    _session: str | None = None

    def call(self, method: str, **given: Any) -> dict[str, Any]:
        """The answer to a command of the protocol."""
        self._number += 1
        told: dict[str, Any] = {"id": self._number, "method": method, "params": given}
        if self._session:
            told["sessionId"] = self._session
        os.write(self._write, json.dumps(told).encode() + b"\0")
        while True:
            message = self._next(60.0)
            if message.get("id") == self._number:
                assert "error" not in message, message["error"]
                return dict(message["result"])
            self.events.append(message)

    def _next(self, patience: float) -> dict[str, Any]:
        end = time.monotonic() + patience
        while b"\0" not in self._left:
            ready, _, _ = select.select([self._read], [], [], max(end - time.monotonic(), 0.0))
            assert ready, "the browser did not answer"
            piece = os.read(self._read, 1 << 20)
            assert piece, "the browser has gone"
            self._left += piece
        one, _, self._left = self._left.partition(b"\0")
        return dict(json.loads(one))

    def open(self, page: Path, width: int, dark: bool, height: int = 900) -> None:
        """Show a file at a width in pixels, in light or dark."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.events.clear()
        self.call("Page.navigate", url=page.resolve().as_uri())
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            self.events.append(self._next(60.0))

    def value(self, expression: str) -> Any:
        """What a line of script gives in the page."""
        return self.call("Runtime.evaluate", expression=expression, returnByValue=True)["result"].get("value")

    def picture(self, target: Path, whole: bool = True) -> None:
        """A picture of the page, whole or what is seen first."""
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)["data"]
        target.write_bytes(base64.b64decode(data))

    def whole_picture(self, target: Path) -> None:
        """A picture of the page from top to bottom."""
        size = self.call("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)["data"]
        target.write_bytes(base64.b64decode(data))

    def printed(self) -> bytes:
        """The page as PDF."""
        return base64.b64decode(self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)["data"])

    @property
    def messages(self) -> list[str]:
        """Everything that the page made the console say."""
        kinds = ("Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded")
        return [json.dumps(e["params"]) for e in self.events if e.get("method") in kinds]

    @property
    def requests(self) -> list[str]:
        """Addresses that the page asked for, without itself and what stands in it."""
        asked = [e["params"]["request"]["url"] for e in self.events if e.get("method") == "Network.requestWillBeSent"]
        return [url for url in asked if not url.startswith("data:")]

    def close(self) -> None:
        """Leave the browser."""
        self._process.terminate()
        self._process.wait(20)
        os.close(self._write)
        os.close(self._read)
