"""Fall by fall, a month's rain and the soil in a real browser: one visit each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from page_running import Running
from page_visit import (  # noqa: F401  # fixtures
    DESKTOP,
    Visit,
    browser,
    context,
    findings,
    run_together,
    slide,
    tab,
    visiting,
)

from simulator.page.guard import LONGEST_TARGET

pytestmark = pytest.mark.long

PHONE = {"width": 390, "height": 844}
# play until another day is told, and stop
PLAYED = """() => new Promise((done) => {
  const play = document.getElementById('play'), said = document.getElementById('day-said');
  const from = said.textContent;
  const look = () => {
    if (said.textContent === from) requestAnimationFrame(look); else { play.click(); done(); }
  };
  play.click();
  look();
})"""


class DrawnVisit(Visit):
    """A visit to a view that draws by hand."""

    def look(self, path: str) -> DrawnVisit:
        self.page.goto(f"{self.server.url}{path}")
        self.page.wait_for_selector(".paper svg")
        return self.settle()

    def narrow(self, *boxes: str) -> None:
        """Take a phone, see that nothing is wider than it, and that pictures fit."""
        self.page.set_viewport_size(PHONE)
        self.wait(
            "([wide, boxes]) => Math.max(document.documentElement.scrollWidth, ...boxes.map("
            "b => +document.querySelector(b + ' svg').getAttribute('width'))) <= wide",
            [PHONE["width"], list(boxes)],
        )
        for box in boxes:
            assert run_together(self, box) == set()
        assert findings(self) == []

    def on_paper(self) -> None:
        """See that what is asked stands there in words, without controls."""
        self.page.emulate_media(media="print")
        assert self.page.locator("#in-words").bounding_box()["height"] > 5
        assert not self.page.is_visible("#asked")
        assert self.page.is_visible(".paper svg")
        self.page.emulate_media(media="screen")


@pytest.fixture
def visit(tab: Any, server: Running) -> Iterator[DrawnVisit]:
    with visiting(DrawnVisit(tab, server, DESKTOP)) as made:
        yield made


def test_fall_by_fall(visit: DrawnVisit) -> None:
    visit.look("/falls")
    page = visit.page
    assert "beats rye sown on Oct 20 in" in visit.text("#said")
    assert page.locator("#falls rect.bar").count() == 30
    last = page.get_attribute("#point", "aria-valuetext")
    slide(visit, "point", -29)  # by keys, to the fall in which the second lags most
    first = page.get_attribute("#point", "aria-valuetext")
    assert first == visit.text("#pointed") != last
    box = page.locator("#falls rect.bar").nth(15).bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 1)
    assert visit.text("#pointed") not in (first, last)
    assert findings(visit) == []
    page.check("#against-nitrogen")
    visit.settle()
    assert "held until Feb 15 beats as much at sowing" in visit.text("#said")
    slide(visit, "nitrogen", -6)  # none is left to hold
    visit.settle()
    assert "nothing to hold back" in visit.text("#nitrogen-fault")
    assert page.get_attribute("#nitrogen", "aria-invalid") == "true"
    slide(visit, "nitrogen", 2)
    page.check("#units-si")
    visit.settle()
    assert visit.text("#nitrogen-fault") == ""
    assert "kg/ha" in visit.text("#said")
    visit.on_paper()
    visit.narrow("#falls")


def test_a_months_rain(visit: DrawnVisit) -> None:
    visit.look("/rain")
    page = visit.page
    assert "usual 3.6 in of rain in November" in visit.text("#said")
    slide(visit, "point", -20)
    assert page.get_attribute("#point", "aria-valuetext").startswith("No rain in November: ")
    assert page.locator("#rain .dot").count() == 2
    assert findings(visit) == []
    page.select_option("#month", "May")
    visit.settle()
    assert "comes after the stand is ended" in visit.text("#month-fault")
    page.select_option("#month", "March")
    page.check("#units-si")
    visit.settle()
    assert visit.text("#month-fault") == ""
    assert "of rain in March" in visit.text("#said")
    assert " mm" in visit.text("#most-said")
    page.select_option("#line", "median")
    visit.on_paper()
    visit.narrow("#rain")
    status, _, told = visit.server.ask("/rain/answer", Origin="http://evil.example")
    assert status == 403
    assert "only this page may" in told["problems"][0]["what"]
    assert visit.server.ask(f"/rain/answer?most={'9' * LONGEST_TARGET}")[0] == 414


def test_the_soil_is_played_and_dragged(visit: DrawnVisit) -> None:
    visit.look("/soil?year=2007")
    page = visit.page
    assert visit.text("#day-said") == "Oct 20 2007"  # nothing plays by itself
    slide(visit, "day", 40)
    assert visit.text("#day-said") == "Nov 29 2007"
    assert "leached below the soil" in visit.text("#pointed")
    page.keyboard.press("Tab")
    assert "day=11-29" in page.input_value("#link")
    assert findings(visit) == []
    page.evaluate(PLAYED)
    stopped = visit.text("#day-said")
    assert stopped != "Nov 29 2007"
    assert visit.text("#play") == "Play"
    assert visit.text("#pointed").startswith(f"By {stopped},")
    page.emulate_media(reduced_motion="reduce")
    page.wait_for_selector("#play:text-is('A week on')")
    before = int(page.input_value("#day"))
    page.click("#play")
    assert int(page.input_value("#day")) == before + 7
    slide(visit, "sow", 5)
    visit.settle()
    assert "Oct 25" in visit.text("#said")
    visit.on_paper()
    visit.narrow("#column", "#season")
