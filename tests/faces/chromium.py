"""Debian's Chromium without a window, driven over its DevTools protocol through a pair of pipes.

The protocol: https://chromedevtools.github.io/devtools-protocol/ (messages end with a zero byte).
"""

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self

PATIENCE_S = 30.0


class Chromium:
    """One browser with one page."""

    def __init__(self, width: int, height: int, *more: str) -> None:
        self._size = width, height
        self._more = more
        self._count = 0
        self._waiting: list[dict[str, Any]] = []
        self.events: list[dict[str, Any]] = []
        self._session = ""

    def __enter__(self) -> Self:
        """Start it."""
        self._profile = tempfile.TemporaryDirectory(prefix="browser-", ignore_cleanup_errors=True)
        its_in, our_out = os.pipe()
        our_in, its_out = os.pipe()
        program = shutil.which("chromium") or "/usr/bin/chromium"
        words = [
            program, "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe",
            "--no-first-run", "--disable-extensions", "--hide-scrollbars", "--mute-audio",
            "--autoplay-policy=no-user-gesture-required", "--disable-dev-shm-usage",
            f"--user-data-dir={self._profile.name}", *self._more, "about:blank",
        ]  # fmt: skip
        script = f'exec "$@" 3<&{its_in} 4>&{its_out}'
        self._process = subprocess.Popen(
            ["bash", "-c", script, "bash", *words],
            pass_fds=(its_in, its_out),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(its_in)
        os.close(its_out)
        self._out = os.fdopen(our_out, "wb", buffering=0)
        self._in = os.fdopen(our_in, "rb", buffering=0)
        os.set_blocking(our_in, False)
        self._rest = b""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        attached = self.call("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        width, height = self._size
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=True,
        )  # fmt: skip
        return self

    def __exit__(self, *_: object) -> None:
        """End it, and everything it started."""
        self._process.terminate()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
        self._out.close()
        self._in.close()
        self._profile.cleanup()

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """Call a method of the protocol; return its result."""
        self._count += 1
        told: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if self._session:
            told["sessionId"] = self._session
        self._out.write(json.dumps(told).encode() + b"\0")
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            for message in self._read():
                if message.get("id") == self._count:
                    assert "error" not in message, message["error"]
                    return dict(message["result"])
                self.events.append(message)
            time.sleep(0.002)
        raise AssertionError(f"the browser does not answer {method}")

    def _read(self) -> list[dict[str, Any]]:
        chunk = self._in.read(1 << 20)
        if not chunk:
            return []
        *whole, self._rest = (self._rest + chunk).split(b"\0")
        return [json.loads(one) for one in whole]

    def go(self, url: str) -> None:
        """Open an address."""
        self.call("Page.navigate", url=url)

    def ask(self, expression: str) -> Any:
        """Evaluate JavaScript; return its value."""
        answer = self.call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True,
            userGesture=True,
        )  # fmt: skip
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def text(self, name: str) -> str:
        """Return the words of an element."""
        return str(self.ask(f"document.getElementById({name!r})?.textContent ?? ''"))

    def until(self, met: Callable[[], bool], what: str = "") -> None:
        """Wait."""
        end = time.monotonic() + PATIENCE_S
        while not met():
            assert time.monotonic() < end, what or "it never came"
            time.sleep(0.02)

    def click(self, expression: str) -> None:
        """Click an element as a finger does."""
        box = self.ask(
            f"(() => {{ const b = ({expression}).getBoundingClientRect();"
            " return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.call(
                "Input.dispatchMouseEvent", type=kind, x=box[0], y=box[1], button="left",
                clickCount=1,
            )  # fmt: skip

    def picture(self, path: Path) -> None:
        """Write what is seen as a PNG."""
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot")["data"]))

    def requests(self) -> list[str]:
        """Return every address that was asked for."""
        return [
            str(event["params"]["request"]["url"])
            for event in self.events
            if event.get("method") == "Network.requestWillBeSent"
        ]

    def complaints(self) -> list[str]:
        """Return errors of scripts, and what the page's policy forbade."""
        return [
            json.dumps(event["params"])[:400]
            for event in self.events
            if event.get("method") == "Runtime.exceptionThrown"
            or (
                event.get("method") == "Log.entryAdded"
                and event["params"]["entry"]["level"] == "error"
            )
        ]
