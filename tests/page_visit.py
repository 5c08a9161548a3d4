"""A browser's visit to the page, for the tests of its views; they import the fixtures too."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import combinations
from typing import Any

import pytest
from page_running import CHROMIUM, FLAGS, Running, running

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
if CHROMIUM is None:
    pytest.skip("no Chromium here: apt-get install chromium", allow_module_level=True)

WIDTHS = (320, 360, 480, 700, 1000, 1280)
DESKTOP, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 740}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("page")) as made:
        yield made


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        # any name but this machine's is unknown, so that a request elsewhere could not be missed
        shut = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"
        made = driver.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, shut])
        yield made
        made.close()


@pytest.fixture(scope="module")
def context(browser: Any) -> Iterator[Any]:
    """One visitor, whose browser keeps the script that draws."""
    made = browser.new_context(accept_downloads=True)
    made.set_default_timeout(15_000)  # a page that is broken fails soon
    yield made
    made.close()


class Visit:
    """A browser's visit: what it asked for, and what went wrong in it."""

    def __init__(self, context: Any, server: Running, viewport: dict[str, int]) -> None:
        self.server = server
        self.page = context.new_page()
        self.page.set_viewport_size(viewport)
        self.asked: list[str] = []
        self.wrong: list[str] = []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("pageerror", lambda error: self.wrong.append(str(error)))
        self.page.on("console", self._heard)

    def _heard(self, message: Any) -> None:
        refusal = "422" in message.text  # a fault of the asker's, which the page names
        if message.type in ("error", "warning") and not refusal:
            self.wrong.append(message.text)

    def open(self, query: str = "") -> Visit:
        self.page.goto(f"{self.server.url}/{query}")
        self.page.wait_for_selector("#key li", state="attached")
        return self.settle()

    def settle(self) -> Visit:
        """Wait until what is asked is answered and drawn."""
        for _ in range(1500):
            done, link = self.page.evaluate(
                "[document.body.dataset.settled, document.getElementById('link').value]"
            )
            if done is not None and done == link.partition("?")[2]:
                return self
            time.sleep(0.01)
        raise AssertionError(f"not settled: {done} {link} {self.wrong}")

    def shown(self) -> str:
        """All that the page says of the answer."""
        parts = (
            "#answer",
            "#rest",
            "#numbers",
            "#cost",
            "#cost-said",
            "#chance-said",
            "#key",
            "#season svg",
            "#chance svg",
        )
        return "\n".join(self.page.locator(part).inner_html() for part in parts)

    def text(self, selector: str) -> str:
        return " ".join(self.page.locator(selector).inner_text().split())


@contextmanager
def visiting(made: Visit) -> Iterator[Visit]:
    """Visit, and see afterwards that nothing went wrong and no other host was asked."""
    yield made
    own = (f"{made.server.url}/", "data:", "blob:")
    elsewhere = [url for url in made.asked if not url.startswith(own)]
    made.page.close()
    assert not elsewhere, "asked another host"
    assert not made.wrong, "console"


def slide(visit: Visit, key: str, steps: int) -> None:
    visit.page.focus(f"#{key}")
    for _ in range(abs(steps)):
        visit.page.keyboard.press("ArrowRight" if steps > 0 else "ArrowLeft")


def findings(visit: Visit) -> list[str]:
    from axe_core_python.sync_playwright import Axe

    found = Axe().run(visit.page)["violations"]
    return [
        f"{one['id']}: {node['html'][:120]}"
        for one in found
        for node in one["nodes"]
        if one["impact"] in ("serious", "critical", "moderate")
    ]


# the letters that are seen, as boxes; a word that is drawn twice, for its halo, stands once
LETTERS = """box => [...box.querySelectorAll('svg text')].filter(
  e => e.textContent && e.getAttribute('opacity') !== '0').map(e => {
  const { x, y, width, height } = e.getBoundingClientRect();
  return [e.textContent, x, y + height * .15, x + width, y + height * .85]; })"""


def fits_the_screen(visit: Visit, box: str) -> None:
    """Wait until a picture is drawn anew for a screen of another width."""
    for _ in range(500):
        wide, room = visit.page.locator(box).evaluate(
            "e => [e.querySelector('svg').getBoundingClientRect().width, e.clientWidth]"
        )
        if abs(wide - room) < 24:
            return
        time.sleep(0.01)
    raise AssertionError(f"{wide} px in {room} px")


def run_together(visit: Visit, box: str) -> set[tuple[str, str]]:
    words = {tuple(word) for word in visit.page.locator(box).evaluate(LETTERS)}
    return {
        (one[0], other[0])
        for one, other in combinations(sorted(words), 2)
        if min(one[3], other[3]) - max(one[1], other[1]) > 0.5
        and min(one[4], other[4]) - max(one[2], other[2]) > 0.5
        and one[0] != other[0]
    }
