"""The reader's own prices in a real browser: typed, wrong, read from a file, kept in the link."""

from __future__ import annotations

import statistics
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from page_running import Running
from page_visit import (  # noqa: F401  # fixtures
    DESKTOP,
    PHONE,
    Visit,
    browser,
    context,
    findings,
    slide,
    tab,
    visiting,
)

PLAN = "?year=2015&seeding=90+lb/acre&nitrogen=30+lb/acre&pin-nitrogen=0+lb/acre"
SEED, SOWING = "#price-seed-rye", "#price-work-sowing"


@pytest.fixture
def visit(tab: Any, server: Running, request: pytest.FixtureRequest) -> Iterator[Visit]:
    with visiting(Visit(tab, server, getattr(request, "param", DESKTOP))) as made:
        yield made


def put(visit: Visit, field: str, text: str, *, end: str = "Tab") -> None:
    visit.page.fill(field, text)
    visit.page.press(field, end)


def total(visit: Visit) -> list[str]:
    return visit.page.locator("#cost tr.total td").all_inner_texts()


@pytest.mark.long
@pytest.mark.analytic("sums by hand: 64.00 + 90 x 0.03 + 2.50 + 3.00; 20 less without nitrogen")
def test_own_prices_reckon_the_cost_and_grow_nothing(visit: Visit) -> None:
    visit.open(PLAN)
    assert total(visit) == ["$64.00", "$44.00"]
    assert not visit.page.locator(SEED).is_visible(), "folded up"
    drawn = visit.page.locator("#season svg").inner_html()
    visit.page.focus("#to-prices")
    visit.page.keyboard.press("Enter")
    assert visit.page.input_value(SEED) == "0.20"
    already = len(visit.asked)
    put(visit, SEED, "$.23", end="Enter")
    put(visit, SOWING, "30.89 $/ha")
    visit.settle()
    assert visit.page.input_value(SOWING) == "12.50", "told by the acre"
    put(visit, SOWING, "12.5")
    put(visit, "#price-own", "scouting = 3.00 $/acre")
    visit.settle()
    assert total(visit) == ["$72.20", "$52.20"]
    for said in ("#prices-said", "#cost-said"):
        assert visit.text(said).startswith("This plan costs $72.20 an acre")
        assert visit.text(said).endswith("The pinned plan costs $20.00 less.")
    assert "seed of rye 0.23 $/lb; sowing 12.5 $/acre; scouting 3.00 $/acre" in visit.text(
        "#cost-caution"
    )
    assert visit.text("#prices summary") == "Prices (3 of your own)"
    assert "--prices my-prices.toml" in visit.page.locator("#command").text_content()
    assert {url.partition("?")[0] for url in visit.asked[already:]} == {f"{visit.server.url}/cost"}
    assert visit.page.locator("#season svg").inner_html() == drawn

    link = visit.page.input_value("#link")
    assert link.count("price-") == 3, "only those that differ"
    other = Visit(visit.page.context.new_page(), visit.server, DESKTOP)
    other.open(link.partition("/?")[2].join(["?", ""]))
    for part in ("#cost", "#cost-said", "#cost-caution", "#command", "#prices-said"):
        assert other.page.locator(part).inner_html() == visit.page.locator(part).inner_html(), part
    assert other.page.input_value(SEED) == "0.23"
    other.page.check("#units-si")
    assert other.settle().page.input_value(SEED) == "0.5071"
    assert "price-seed-rye=0.23%2Flb" in other.page.input_value("#link")
    other.page.close()
    assert not other.wrong

    visit.page.go_back()
    visit.page.wait_for_selector("#cost tr.total td:has-text('$69.20')")
    assert visit.settle().page.input_value("#price-own") == ""
    put(visit, SEED, "")
    assert visit.settle().page.input_value(SEED) == "0.20", "an empty field: as packaged"
    visit.page.click("#packaged")
    visit.settle()
    assert total(visit) == ["$64.00", "$44.00"]
    assert "price-" not in visit.page.input_value("#link")


@pytest.mark.long
@pytest.mark.parametrize("visit", [PHONE], indirect=True)
def test_wrong_prices_are_said_beside_their_field(visit: Visit) -> None:
    visit.open(PLAN + "&price-seed-rye=0.23/lb")
    visit.page.click("#prices summary")
    before = visit.shown()
    for text, wrong in (
        ("-1", "is negative"),
        ("abc", "is not a price"),
        ("NaN", "not a price"),
        ("Infinity", "not a price"),
        ("1e308", "not a price"),
        ("51", "absurd: more than 50"),
        ("0,2", "not a price"),
        ("<img src=x>", "not a price"),
        ("0.2 $/acre", "not by lb or kg"),
    ):
        put(visit, SEED, text)
        visit.page.wait_for_selector(f"{SEED}-fault:has-text('{wrong}')")
        visit.settle()
        assert visit.page.input_value(SEED) == text, "stays to be put right"
        assert visit.page.get_attribute(SEED, "aria-invalid") == "true"
        assert "Until then the cost has 0.23 $ per lb of seed" in visit.text(f"{SEED}-fault")
        assert visit.shown() == before, text
        assert visit.page.locator("#problems").inner_text() == ""
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    assert findings(visit) == []
    slide(visit, "nitrogen", 2)
    visit.settle()
    assert total(visit) == ["$71.70", "$46.70"], "the season goes on at the last good price"
    assert visit.page.get_attribute(SEED, "aria-invalid") == "true"
    put(visit, SEED, "0.24")
    visit.settle()
    assert visit.text(f"{SEED}-fault") == ""
    assert visit.page.get_attribute(SEED, "aria-invalid") is None
    assert total(visit) == ["$72.60", "$47.60"]

    visit.open(PLAN + "&price-work-sowing=abc&price-seed-rye=0.23/lb")
    assert total(visit) == ["$66.70", "$46.70"], "a wrong price in a link stops no season"
    assert "'abc' is not a price" in visit.text(f"{SOWING}-fault")
    assert "price-work-sowing" not in visit.page.input_value("#link")


def test_a_price_file_is_read_and_given(visit: Visit, tmp_path: Path) -> None:
    visit.open(PLAN)
    visit.page.click("#prices summary")
    put(visit, SEED, "0.23")
    visit.settle()
    with visit.page.expect_download() as caught:
        visit.page.click("[data-get='/prices.toml']")
    text = Path(caught.value.path()).read_text(encoding="utf-8")
    assert tomllib.loads(text)["seed"]["rye"] == "0.23 $/lb"
    file = tmp_path / "mine.toml"
    file.write_text(text.replace("$", "€") + '"<b>scouting</b>" = "3.00 €/acre"\n', "utf-8")
    visit.page.set_input_files("#price-file", file)
    visit.page.click("#read-prices")
    visit.page.wait_for_selector("#price-file-said:has-text('mine.toml is read')")
    visit.settle()
    assert total(visit) == ["€69.70", "€49.70"]
    assert visit.page.input_value("#price-own") == "<b>scouting</b> = 3.00 €/acre"
    put(visit, "#price-currency", "EUR")
    visit.settle()
    assert total(visit) == ["EUR 69.70", "EUR 49.70"]
    file.write_text(text.replace("0.23 $", "-1 $"), "utf-8")
    visit.page.set_input_files("#price-file", file)
    visit.page.click("#read-prices")
    visit.page.wait_for_selector("#price-file-faults:has-text(\"[seed], key 'rye': '-1 $/lb' is\")")
    assert total(visit) == ["EUR 69.70", "EUR 49.70"]


def test_every_price_has_a_name_and_is_met_by_the_keyboard(visit: Visit) -> None:
    visit.open("?year=2015&pin-cereal=oat&pin-fertilizer=urea")
    visit.page.focus("#prices summary")
    visit.page.keyboard.press("Enter")
    met = {}
    for _ in range(20):
        visit.page.keyboard.press("Tab")
        name, label = visit.page.evaluate(
            "(() => { const e = document.activeElement; return [e.id, e.labels?.[0]?.innerText];"
            " })()"
        )
        met[name] = label
    assert met["price-seed-rye"] == "seed of rye, $ per lb of seed"
    assert met["price-seed-oat"] == "seed of oat, $ per lb of seed"
    assert met["price-nitrogen-urea"] == "nitrogen as urea, $ per lb of nitrogen"
    assert met["price-materials-herbicide"] == "herbicide of each spraying, $ per acre"
    assert {"price-own", "price-currency", "price-label", "price-date", "price-file"} <= set(met)
    assert findings(visit) == []


def test_how_long_a_price_takes(visit: Visit, record_property: Any) -> None:
    """Print the median from input to paint of a price that is typed."""
    visit.open(PLAN + "&change=rain+november+%3D+11+inch")
    visit.page.click("#prices summary")
    visit.page.evaluate("performance.clearMeasures()")
    for text in ("1", "2", "3", "4", "5"):
        visit.page.fill(SEED, text)
        visit.settle()
    took = visit.page.evaluate("performance.getEntriesByType('measure').map(m => m.duration)")
    assert len(took) >= 5
    record_property("price_to_paint_ms", round(statistics.median(took)))
    print(f"\nprice to paint, median {statistics.median(took):.0f} ms")
