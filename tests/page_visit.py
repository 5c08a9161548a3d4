"""A browser's visit to the page, for the tests of its views; they import the fixtures too."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import combinations
from typing import Any

import pytest
from page_running import CHROMIUM, FLAGS, Running

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
if CHROMIUM is None:
    pytest.skip("no Chromium here: apt-get install chromium", allow_module_level=True)

WIDTHS = (320, 360, 480, 700, 1000, 1280)
DESKTOP, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 740}


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        # any name but this machine's is unknown, so that a request elsewhere could not be missed
        shut = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"
        one = "--process-per-site"  # its tabs share what is compiled
        made = driver.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, shut, one])
        yield made
        made.close()


@pytest.fixture(scope="module")
def context(browser: Any) -> Iterator[Any]:
    """One visitor."""
    made = browser.new_context(accept_downloads=True)
    made.set_default_timeout(15_000)  # a page that is broken fails soon
    yield made
    made.close()


@pytest.fixture(scope="module")
def tab(context: Any) -> Any:
    """A tab for one visit after the other.

    A new one, or one that has been elsewhere, has a new process, which takes as long to start and
    to compile the script that draws as all that a page does.
    """
    return context.new_page()


class Visit:
    """A browser's visit: what it asked for, and what went wrong in it."""

    def __init__(self, page: Any, server: Running, viewport: dict[str, int]) -> None:
        self.server = server
        self.page = page
        self.page.set_viewport_size(viewport)
        self.asked: list[str] = []
        self.wrong: list[str] = []
        self.listeners = {
            "request": lambda request: self.asked.append(request.url),
            "pageerror": lambda error: self.wrong.append(str(error)),
            "console": self._heard,
        }
        for event, listener in self.listeners.items():
            self.page.on(event, listener)

    def leave(self) -> None:
        """Leave the tab as a new one is, but for its process."""
        for event, listener in self.listeners.items():
            self.page.remove_listener(event, listener)
        self.page.goto(f"{self.server.url}/static/page.css")  # breaks off what is still asked
        plain = dict.fromkeys(("media", "color_scheme", "reduced_motion", "forced_colors"), "null")
        self.page.emulate_media(**plain)
        self.page.mouse.move(0, 0)

    def _heard(self, message: Any) -> None:
        refusal = "422" in message.text  # a fault of the asker's, which the page names
        # the style sheet that a tab was left at names no icon, which the browser then asks for
        icon = message.location["url"].endswith("/favicon.ico")
        if message.type in ("error", "warning") and not (refusal or icon):
            self.wrong.append(message.text)

    def open(self, query: str = "") -> Visit:
        self.page.goto(f"{self.server.url}/{query}")
        self.page.wait_for_selector("#key li", state="attached")
        return self.settle()

    def settle(self) -> Visit:
        """Wait until what is asked is answered and drawn."""
        self.wait(
            "() => document.body.dataset.settled =="
            " document.getElementById('link').value.replace(/^[^?]*\\??/, '')"
        )
        return self

    def wait(self, true: str, given: Any = None) -> None:
        """Wait until the page has a function of its own true, asked every 15 ms."""
        try:
            self.page.wait_for_function(true, arg=given, timeout=40_000, polling=15)
        except playwright.TimeoutError:
            raise AssertionError(f"never so: {true} {self.page.url} {self.wrong}") from None

    def shown(self) -> str:
        """Tell a digest of all that the page says of the answer."""
        return str(self.page.evaluate(SHOWN))

    def text(self, selector: str) -> str:
        return " ".join(self.page.locator(selector).inner_text().split())


@contextmanager
def visiting(made: Visit) -> Iterator[Visit]:
    """Visit, and see afterwards that nothing went wrong and no other host was asked."""
    yield made
    own = (f"{made.server.url}/", "data:", "blob:")
    elsewhere = [url for url in made.asked if not url.startswith(own)]
    made.leave()
    assert not elsewhere, f"asked another host: {elsewhere}"
    assert not made.wrong, f"console: {made.wrong}"


def slide(visit: Visit, key: str, steps: int) -> None:
    visit.page.focus(f"#{key}")
    for _ in range(abs(steps)):
        visit.page.keyboard.press("ArrowRight" if steps > 0 else "ArrowLeft")


def findings(visit: Visit, *rules: str) -> list[str]:
    """Tell what hinders readers, by all rules unless some are named."""
    from axe_core_python.sync_playwright import Axe

    # of what passes nothing is told: that takes longer than to find it
    asked = {"resultTypes": ["violations"], **({"runOnly": list(rules)} if rules else {})}
    found = Axe().run(visit.page, options=asked)["violations"]
    return [
        f"{one['id']}: {node['html'][:120]}"
        for one in found
        for node in one["nodes"]
        if one["impact"] in ("serious", "critical", "moderate")
    ]


# a digest: the pictures are long, and are asked for often
SHOWN = """async () => {
  const text = ['#answer', '#rest', '#numbers', '#cost', '#cost-said', '#chance-said', '#key',
    '#season svg', '#chance svg'].map(e => document.querySelector(e).innerHTML).join('\\n');
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(text));
  return String(new Uint8Array(digest));
}"""
# the letters that are seen, as boxes; a word that is drawn twice, for its halo, stands once
LETTERS = """box => [...box.querySelectorAll('svg text')].filter(
  e => e.textContent && e.getAttribute('opacity') !== '0').map(e => {
  const { x, y, width, height } = e.getBoundingClientRect();
  return [e.textContent, x, y + height * .15, x + width, y + height * .85]; })"""


def fits_the_screen(visit: Visit, box: str) -> None:
    """Wait until a picture is drawn anew for a screen of another width."""
    visit.wait(
        "box => { const e = document.querySelector(box);"
        " return Math.abs(e.querySelector('svg').getBoundingClientRect().width"
        " - e.clientWidth) < 24; }",
        box,
    )


def run_together(visit: Visit, box: str) -> set[tuple[str, str]]:
    words = {tuple(word) for word in visit.page.locator(box).evaluate(LETTERS)}
    return {
        (one[0], other[0])
        for one, other in combinations(sorted(words), 2)
        if min(one[3], other[3]) - max(one[1], other[1]) > 0.5
        and min(one[4], other[4]) - max(one[2], other[2]) > 0.5
        and one[0] != other[0]
    }
