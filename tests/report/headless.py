"""A headless browser driven over its debugging pipe: loads a page, runs script in it, records what goes wrong."""

from __future__ import annotations

import json
import os
import select
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium")
PATIENCE = 60.0  # s
SWITCHES = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-default-apps", "--mute-audio",
    "--force-color-profile=srgb", "--remote-debugging-pipe",
)  # fmt: skip
Told = dict[str, Any]


class Browser:
    """One tab. `errors`: what console or script complained of; `requests`: addresses asked for since the last load."""

    def __init__(self, to_browser: int, from_browser: int) -> None:
        self._write, self._read = to_browser, from_browser
        self._rest = b""
        self._count = 0
        self.session: str | None = None
        self.errors: list[str] = []
        self.requests: list[str] = []
        self._seen: set[str] = set()

    def open_tab(self) -> None:
        """Make the one tab and listen to it."""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log", "DOM"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: Any) -> Told:
        """Ask the browser and wait for its answer."""
        self._count += 1
        asked = {"id": self._count, "method": method, "params": params}
        if self.session:
            asked["sessionId"] = self.session
        os.write(self._write, json.dumps(asked).encode() + b"\0")
        while True:
            told = self._next()
            if told.get("id") == self._count:
                if "error" in told:
                    raise RuntimeError(f"{method}: {told['error']['message']}")
                result: Told = told["result"]
                return result
            self._take(told)

    def load(self, path: Path, width: int = 1280, height: int = 900) -> None:
        """Load a file in a window of a size, until it fires its load event."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        self._seen.clear()
        self.errors.clear()
        self.requests.clear()
        self.call("Page.navigate", url=path.as_uri())
        end = time.monotonic() + PATIENCE
        while "Page.loadEventFired" not in self._seen:
            assert time.monotonic() < end, "the page does not load"
            self._take(self._next())

    def run(self, script: str) -> Any:
        """Value of a script, awaited."""
        told = self.call("Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in told:
            raise RuntimeError(str(told["exceptionDetails"].get("exception", told["exceptionDetails"])))
        return told["result"].get("value")

    def until(self, script: str) -> None:
        """Wait for a script to be true."""
        end = time.monotonic() + PATIENCE
        while not self.run(script):
            assert time.monotonic() < end, f"never true: {script}"
            time.sleep(0.05)

    def click(self, x: float, y: float) -> None:
        """Press and release at a place of the window."""
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def press(self, key: str) -> None:
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key)

    def _next(self) -> Told:
        while b"\0" not in self._rest:
            ready, _, _ = select.select([self._read], [], [], PATIENCE)
            assert ready, "the browser says nothing"
            piece = os.read(self._read, 1 << 20)
            assert piece, "the browser is gone"
            self._rest += piece
        line, self._rest = self._rest.split(b"\0", 1)
        told: Told = json.loads(line)
        return told

    def _take(self, told: Told) -> None:
        method, params = told.get("method", ""), told.get("params", {})
        self._seen.add(method)
        if method == "Runtime.exceptionThrown":
            self.errors.append(str(params["exceptionDetails"])[:2000])
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning", "assert"):
            self.errors.append(str(params["args"])[:2000])
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.errors.append(params["entry"]["text"])
        elif method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])


@contextmanager
def browser(profile: Path) -> Iterator[Browser]:
    """A browser with an empty profile, ended with the block."""
    assert CHROMIUM is not None
    browser_reads, we_write = os.pipe()
    we_read, browser_writes = os.pipe()
    command = f'exec "$0" "$@" 3<&{browser_reads} 4>&{browser_writes}'
    process = subprocess.Popen(
        ["bash", "-c", command, CHROMIUM, *SWITCHES, f"--user-data-dir={profile}"],
        pass_fds=(browser_reads, browser_writes), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(browser_reads)
    os.close(browser_writes)
    try:
        one = Browser(we_write, we_read)
        one.open_tab()
        yield one
        one.session = None
        with suppress(AssertionError, OSError):
            one.call("Browser.close")
        process.wait(timeout=30)
    finally:
        if process.poll() is None:
            process.kill()
            process.wait(timeout=30)
        os.close(we_write)
        os.close(we_read)
