"""Two tasks in a browser: a clipping and its new range, the best of four dates at a place."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from page_running import Running, running
from page_visit import (  # noqa: F401  # fixtures
    DESKTOP,
    Visit,
    browser,
    context,
    findings,
    run_together,
    tab,
    visiting,
)

from simulator.weather.samples import DEFAULT_SAMPLE, samples_folder

pytestmark = pytest.mark.long

PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def station(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record that ends on 20 January."""
    text = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text()
    path = tmp_path_factory.mktemp("weather") / "station.csv"
    path.write_text(text[: text.index("2025-01-21")])
    return path


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory, station: Path) -> Iterator[Running]:
    with running(tmp_path_factory.mktemp("page"), "--weather", str(station)) as made:
        yield made


def opened(visit: Visit, path: str) -> None:
    visit.page.goto(f"{visit.server.url}{path}")
    visit.settle()


def drawn(visit: Visit) -> str:
    """All words of the fan, a line with the next."""
    words = visit.page.locator("#fan svg text").first
    words.wait_for(state="attached")
    return " ".join(visit.page.locator("#fan svg text, #fan svg tspan").all_text_contents())


def on_a_phone(visit: Visit) -> None:
    """See that nothing runs off a narrow screen, and no finding is left there."""
    visit.page.set_viewport_size(PHONE)
    time.sleep(0.5)  # pictures are drawn anew
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert findings(visit) == []


def test_a_clipping_is_put_in_and_its_range_read(tab: Any, server: Running, station: Path) -> None:
    with visiting(Visit(tab, server, DESKTOP)) as visit:
        page = visit.page
        opened(visit, "/season?units=us")
        assert visit.text("#first").startswith("Known to Jan 20, 2025")
        assert "forecast made on Jan 20, 2025" in visit.text("#fan-said")
        assert "made on Jan 20" in drawn(visit)
        before = visit.text("#table")
        # a day before sowing: the fault stands at its field, and nothing is kept
        page.focus("#much")
        page.keyboard.type("850")
        page.keyboard.press("Tab")
        page.keyboard.type("10-01")
        page.keyboard.press("Enter")
        page.wait_for_selector("#on-fault:not(:empty)")
        assert "Name a day after sowing" in visit.text("#on-fault")
        assert page.locator("#on").get_attribute("aria-invalid") == "true"
        assert page.locator("#clippings li").count() == 0
        page.fill("#on", "01-10")
        page.keyboard.press("Enter")
        page.wait_for_selector("#clippings li")
        visit.settle()
        assert visit.text("#clippings li span") == "850 lb/ac on Jan 10"
        assert visit.text("#first").startswith("After 850 lb/ac on Jan 10, the stand makes")
        after = visit.text("#before-after")
        rows = page.locator("#table tbody tr")
        ends = [rows.nth(row).locator("td").nth(1).inner_text() for row in (0, 1)]
        assert ends[0] in before
        assert ends[0] != ends[1]
        assert f"lay in {ends[0]} lb/ac; after it, in {ends[1]} lb/ac" in after
        assert "measured=850+lb%2Facre+on+01-10" in page.url
        on_a_phone(visit)
        page.locator("#clippings button").click()
        visit.settle()
        assert page.locator("#clippings li").count() == 0
        assert visit.text("#first").startswith("Known to Jan 20, 2025")
        # the weather goes on
        text = station.read_text()
        station.write_text(f"{text}2025-01-21,16.0,4.0,0.0\n")
        page.wait_for_selector("#fresh:not([hidden])")
        assert "it goes to 2025-01-21" in visit.text("#fresh")
        page.wait_for_selector("#fan svg:has-text('made on Jan 21')", state="attached")


def test_the_best_of_four_dates_at_a_place_of_the_map(tab: Any, server: Running) -> None:
    with visiting(Visit(tab, server, DESKTOP)) as visit:
        page = visit.page
        opened(visit, "/map?set=samples")
        assert page.locator("#map .point").count() == 6
        shown = [page.locator("#map .dot").nth(at).get_attribute("style") for at in range(6)]
        # from the first point by keyboard to the one east of it, which is picked
        page.locator("#map .point[tabindex='0']").focus()
        page.keyboard.press("ArrowRight")
        name = page.evaluate("document.activeElement.getAttribute('aria-label')")
        site = name.partition(":")[0]
        page.keyboard.press("Enter")
        visit.settle()
        assert visit.text("#picked-head") == f"{site} (invented)"
        chances = [int(one) for one in page.locator("#dated td:nth-child(2)").all_inner_texts()]
        dates = page.locator("#dated tbody th").all_inner_texts()
        assert len(chances) == 4
        best = dates[chances.index(max(chances))]
        assert best.endswith("(best)")
        day = best.removesuffix("(best)").strip()
        said = visit.text("#best")
        assert said.startswith(f"Sown on {day}, 4,000 lb/ac is made at {site} with a chance of ")
        assert f"{max(chances)} percent" in said
        assert "In a field like these" in said
        # another date colours the map anew, the legend as it was
        legend = page.locator("#map text.soft").all_inner_texts()
        page.get_by_role("radio", name="Nov 20").check()
        visit.settle()
        again = [page.locator("#map .dot").nth(at).get_attribute("style") for at in range(6)]
        assert again != shown
        assert page.locator("#map text.soft").all_inner_texts() == legend
        assert "Sown on Nov 20" in visit.text("#verdict")
        assert run_together(visit, "#map") == set()
        page.fill("#sowings", "10-05,13-01")
        page.keyboard.press("Enter")
        page.wait_for_selector("#sowings-fault:not(:empty)")
        assert page.locator("#sowings").get_attribute("aria-invalid") == "true"
        page.go_back()
        visit.settle()
        on_a_phone(visit)
        # pressed again, the place's season opens
        page.locator("#map .point[aria-pressed='true']").focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("#key li", state="attached")
        visit.settle()
        assert page.locator("#place").input_value() in page.url
        named = page.locator("#place option:checked").inner_text()
        assert named == f"{site} (invented)", "no file of the reader's"
        assert "sow=11-20" in page.url


def test_two_sides_in_both_units(tab: Any, server: Running) -> None:
    with visiting(Visit(tab, server, DESKTOP)) as visit:
        page = visit.page
        opened(visit, "/two?units=us")
        verdict = visit.text("#verdict")
        assert "cannot be told" in verdict or "than A" in verdict
        page.select_option("#b-place", "sorrel-ledge")
        visit.settle()
        assert "Two places" in visit.text("#between")
        page.fill("#b-nitrogen-timing", "someday")
        page.keyboard.press("Enter")
        page.wait_for_selector("#b-nitrogen-timing-fault:not(:empty)")
        page.fill("#b-nitrogen-timing", "02-15")
        page.keyboard.press("Enter")
        visit.settle()
        assert visit.text("#b-nitrogen-timing-fault") == ""
        assert "on Feb 15" in visit.text("#b-head")
        page.locator("#units-si").check()
        visit.settle()
        assert "kg/ha" in visit.text("#between")
        assert "lb/ac" not in visit.text("main")
        on_a_phone(visit)
