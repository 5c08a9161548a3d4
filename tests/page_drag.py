"""How long a dragged handle of the field view takes to the paint: python tests/page_drag.py.

For each handle the medians of its steps. ``to paint``: milliseconds by the clock from the input to
the paint of the answer and its growth; ``request`` of them: the server's, and the way there and
back. The others are milliseconds of processor time, which other work on the machine moves less, of
the whole step, what stands below and is drawn afterwards among it: of the program (``server``), of
the page's thread, its style and layout, of all of the browser.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from page_running import CHROMIUM, FLAGS, Running, running
from playwright.sync_api import sync_playwright

QUERY = "?change=rain+november+%3D+11+inch&pin-sow=11-20&nitrogen-timing=02-15"
HANDLES = ("sow", "seeding", "nitrogen", "fed", "end", "rain", "warmth", "target")
SCREEN = {"width": 1440, "height": 900}
TOLD = ("to paint", "request", "server", "thread", "style", "layout", "browser", "kB")


def spent(process: int) -> float:
    """Return the processor time of a process and of all that it started [ms]."""
    total, waiting = 0.0, [process]
    while waiting:
        one = waiting.pop()
        for task in Path(f"/proc/{one}/task").glob("*"):
            total += int((task / "schedstat").read_text().split()[0]) / 1e6
            waiting += map(int, (task / "children").read_text().split())
    return total


class Drag:
    """A page whose handles are dragged.

    Parameters
    ----------
    page : Page
    server : Running
    browser : int
        The browser's process.
    """

    def __init__(self, page: Any, server: Running, browser: int) -> None:
        self.page, self.server, self.browser = page, server, browser
        self.developer = page.context.new_cdp_session(page)
        self.developer.send("Performance.enable", {"timeDomain": "threadTicks"})

    def settle(self) -> None:
        """Wait until what is asked is answered and drawn."""
        self.page.wait_for_function(
            "() => document.body.dataset.settled ==="
            " document.getElementById('link').value.split('?')[1]",
            polling=15,
        )

    def counted(self) -> dict[str, float]:
        """Return the processor time spent so far, by part [ms]."""
        told = self.developer.send("Performance.getMetrics")["metrics"]
        page = {one["name"]: 1000 * one["value"] for one in told}
        return {
            "server": spent(self.server.process.pid),
            "style": page["RecalcStyleDuration"],
            "layout": page["LayoutDuration"],
            "thread": page["TaskDuration"],
            "browser": spent(self.browser),
        }

    def steps(self, key: str, count: int) -> list[dict[str, float]]:
        """Drag a handle to and fro by a few steps; the first, which may find nothing kept, tells
        nothing."""
        handle = self.page.locator(f"#{key}")
        handle.scroll_into_view_if_needed()
        box = handle.bounding_box()
        at = box["x"] + box["width"] * float(
            handle.evaluate("e => (e.value - e.min) / (e.max - e.min)")
        )
        mouse, high = self.page.mouse, box["y"] + box["height"] / 2
        mouse.move(at, high)
        mouse.down()
        found = []
        for step in range(count + 1):
            self.settle()
            before = self.counted()
            self.page.evaluate("performance.clearMeasures(); performance.clearResourceTimings()")
            inside = box["x"] + 12, box["x"] + box["width"] - 12
            away = at + (9 + 7 * (step % 6)) * (-1 if at > sum(inside) / 2 else 1)
            mouse.move(min(max(away, inside[0]), inside[1]), high)
            time.sleep(0.02)
            self.settle()
            took, asked = self.page.evaluate(
                "[performance.getEntriesByType('measure').map(m => m.duration),"
                " performance.getEntriesByType('resource').map(r => [r.duration, r.transferSize])]"
            )
            after = self.counted()
            if step and took:
                parts = {name: after[name] - before[name] for name in before}
                sent = {"request": asked[0][0], "kB": sum(size for _, size in asked) / 1000}
                found.append({"to paint": took[-1], **parts, **sent})
        mouse.up()
        self.settle()
        return found


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--steps", type=int, default=25, help="steps of each handle")
    parser.add_argument("--query", default=QUERY, help="the link's query that is opened")
    parser.add_argument("handles", nargs="*", default=HANDLES)
    given = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        running(Path(folder)) as server,
        sync_playwright() as driver,
    ):
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        process = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")
        (own,) = (one["id"] for one in process["processInfo"] if one["type"] == "browser")
        page = browser.new_page(viewport=SCREEN)
        page.goto(f"{server.url}/{given.query}")
        page.wait_for_selector("#key li")
        drag = Drag(page, server, own)
        drag.settle()
        print(f"{'medians':10}", *(f"{name:>10}" for name in TOLD))
        for key in given.handles:
            found = drag.steps(key, given.steps)
            middle = [statistics.median(one[name] for one in found) for name in TOLD]
            least = min(one["to paint"] for one in found)
            print(f"{key:10}", *(f"{value:10.1f}" for value in middle), f"  least {least:.0f}")
        browser.close()


if __name__ == "__main__":
    main()
