"""A headless browser for the report's tests: the one that is installed, driven over its own protocol; none is
downloaded."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

# the shell without a desktop first: the same engine, a third less time
NAMES = (
    *("chromium-headless-shell", "chrome-headless-shell", "chromium", "chromium-browser"),
    *("google-chrome", "google-chrome-stable", "chrome", "msedge"),
)
QUIET = [
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-quic",
    "--no-first-run",
]
SOFTWARE_GL = [
    *("--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"),
    # the 3D alone goes through it, each point of the picture once: half the processor's time
    *("--disable-gpu-compositing", "--disable-gpu-rasterization", "--webgl-antialiasing-mode=none"),
]
NO_GL = ["--disable-gpu", "--disable-3d-apis"]
SIZES = {
    "desktop": dict(viewport={"width": 1180, "height": 760}),
    "phone": dict(
        viewport={"width": 390, "height": 844}, device_scale_factor=2, is_mobile=True, has_touch=True
    ),
}


class Browsers:
    """Starts browsers, each once: with 3D drawn by software, or without any 3D."""

    def __init__(self, driver, program: str):
        self._driver, self._program, self._running = driver, program, {}

    def get(self, gl: bool = True):
        if gl not in self._running:
            root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
            self._running[gl] = self._driver.chromium.launch(
                executable_path=self._program, args=[*root, *QUIET, *(SOFTWARE_GL if gl else NO_GL)]
            )
        return self._running[gl]

    def close(self) -> None:
        for browser in self._running.values():
            browser.close()


@contextmanager
def browsers() -> Iterator[Browsers]:
    """Skips the test, saying why, where there is no browser to run."""
    sync_api = pytest.importorskip(
        "playwright.sync_api", reason="the report's browser tests need playwright, from the dev dependencies"
    )
    program = os.environ.get("BROWSER_PROGRAM") or next(filter(None, map(shutil.which, NAMES)), None)
    if program is None:
        pytest.skip(f"no browser found (looked for {', '.join(NAMES)}); name one in BROWSER_PROGRAM")
    with sync_api.sync_playwright() as driver:
        found = Browsers(driver, program)
        try:
            yield found
        finally:
            found.close()


@contextmanager
def opened(browser, address: str, size: str = "desktop", allowed: tuple[str, ...] = ()) -> Iterator:
    """A page that must keep quiet: a console error, an error in a script or a request to anywhere else fails
    the test."""
    wrong: list[str] = []
    context = browser.new_context(**SIZES[size])
    tab = context.new_page()
    tab.on(
        "console",
        lambda m: (
            wrong.append(f"console {m.type}: {m.text}")
            if m.type in ("error", "warning") and "GL Driver Message" not in m.text
            else None
        ),
    )
    tab.on("pageerror", lambda e: wrong.append(f"script: {e}"))
    tab.on(
        "request",
        lambda r: (
            None
            if r.url == address or r.url.startswith(("data:", *allowed))
            else wrong.append(f"request: {r.url}")
        ),
    )
    tab.goto(address)
    try:
        yield tab
        assert not wrong, wrong
    finally:
        context.close()


TWO_OF_A_KIND = """() => {
    const kinds = new Map();
    for (const e of document.querySelectorAll("tbody tr, li")) {
        const kind = e.outerHTML.replace(/<([a-z0-9]+)/g, "\\0$1 ").split("\\0").slice(1)
            .map(t => t.split(" ")[0] + (/class="[^"]*"/.exec(t) || "")).join() + e.closest("section")?.id;
        kinds.set(kind, (kinds.get(kind) || 0) + 1);
        if (kinds.get(kind) > 2) e.remove();
    } }"""  # the checker's time goes with the rows, of which most differ in their words alone


def violations(tab, rule: str | None = None) -> list[str]:
    """What the accessibility checker axe finds against WCAG 2.1 A and AA, or one rule of it: rule, how bad,
    where. Of rows and list items alike in kind the page keeps two a section."""
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright",
        reason="the accessibility checks need axe-playwright-python, from the dev dependencies",
    )
    tab.evaluate(TWO_OF_A_KIND)
    found = (
        axe.Axe()
        .run(
            tab,
            options={
                "runOnly": {"type": "rule", "values": [rule]}
                if rule
                else ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"],
                "resultTypes": ["violations"],
            },
        )
        .response["violations"]
    )
    return [f"{v['id']} ({v['impact']}): {n['html'][:160]}" for v in found for n in v["nodes"]]
