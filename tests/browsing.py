"""A browser without a window for the tests of the page: Debian's Chromium, driven by Playwright."""

import os
import shutil
import subprocess
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

EVERY_TEST = "SWINGROOM_EVERY_TEST"
"""Set where nothing may be skipped, as in CI."""
CHROMIUM = ("chromium", "chromium-browser")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--enable-unsafe-swiftshader",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
SMALLER_THAN_A_FINGER = """() => [...document.querySelectorAll("button, input:not([type=radio]), .part-list label")]
    .filter((one) => one.getClientRects().length)
    .filter((one) => { const box = one.getBoundingClientRect(); return box.width < 44 || box.height < 44; })
    .map((one) => one.outerHTML)"""
"""44 pixels: WCAG 2.2, 2.5.5."""
DRIVER_TALK = "GL Driver Message"
"""What a software renderer says of its own speed; no fault of the page."""


@contextmanager
def browser():
    """The browser; if there is none the test is skipped with the reason, or fails where every test must run."""
    sync_api = pytest.importorskip("playwright.sync_api") if not os.environ.get(EVERY_TEST) else _playwright()
    path = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if path is None:
        reason = "Chromium is not installed (Debian: apt-get install --no-install-recommends chromium)"
        pytest.fail(reason) if os.environ.get(EVERY_TEST) else pytest.skip(reason)
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=path, args=list(FLAGS))
        yield opened
        opened.close()


def rules_of_access():
    """The program of axe-core, the open rules of WCAG, where node finds it, such as by NODE_PATH; else as `browser`."""
    node = shutil.which("node")
    asked = [node, "-p", 'require.resolve("axe-core/axe.min.js")']
    found = subprocess.run(asked, capture_output=True, text=True) if node else None
    if found is None or found.returncode:
        reason = "node and the npm package axe-core are not here"
        pytest.fail(reason) if os.environ.get(EVERY_TEST) else pytest.skip(reason)
    return Path(found.stdout.strip()).read_text(encoding="utf-8")


def _playwright():
    from playwright import sync_api

    return sync_api


class Tab:
    """A page in the browser, with what it complained of and what it asked the network for."""

    def __init__(self, opened, path, width=1200, height=700, **options):
        self.context = opened.new_context(viewport={"width": width, "height": height}, **options)
        self.page = self.context.new_page()
        self.complaints, self.asked = [], []
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(path.as_uri())
        if options.get("java_script_enabled", True):
            self.page.wait_for_selector("html.ready")

    def _heard(self, message):
        if message.type in ("error", "warning") and DRIVER_TALK not in message.text:
            self.complaints.append(message.text)

    def comes(self, expression, holds, tries=50):
        """Whether what ``expression`` gives comes to ``holds``; asked from here: the page lets nobody evaluate text."""
        for _ in range(tries):
            if holds(self.page.evaluate(expression)):
                return True
            self.page.wait_for_timeout(100)
        return False

    def until(self, expression, holds, tries=50):
        """Wait until what ``expression`` gives ``holds``."""
        if not self.comes(expression, holds, tries):
            pytest.fail(f"{expression} gives {self.page.evaluate(expression)}")

    @property
    def fetched(self):
        """Everything it asked for besides itself."""
        return [url for url in self.asked if url != self.page.url and not url.startswith(("data:", "blob:"))]

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.context.close()


def swipe(hand, x, y, right, down):
    """One finger from a place of the window in eight steps of so many pixels."""
    hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 9):
        point = {"x": x + right * step, "y": y + down * step}
        hand.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def outlined_share(png):
    """Share of a picture's rows in which the first that is seen from the left has a contrast of 3 : 1 (WCAG 2.2)."""
    with Image.open(BytesIO(png)) as picture:
        shares = np.asarray(picture.convert("RGB"), dtype=float)[2:-2, 2:-2] / 255
    linear = np.where(shares <= 0.04045, shares / 12.92, ((shares + 0.055) / 1.055) ** 2.4)
    luminance = linear @ (0.2126, 0.7152, 0.0722)
    ground = luminance[0, 0]
    differs = np.abs(luminance - ground) > 0.02
    rows = np.flatnonzero(differs.any(axis=1))
    assert len(rows) > 100
    stands_out = 0
    for row in rows:
        start = int(np.argmax(differs[row]))
        near = luminance[row, start : start + 5]
        low, high = np.minimum(near, ground), np.maximum(near, ground)
        stands_out += bool(((high + 0.05) / (low + 0.05)).max() >= 3)
    return stands_out / len(rows)
