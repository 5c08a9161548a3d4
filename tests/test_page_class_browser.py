"""The class view in a real browser: what is drawn, moved, spoken, printed and handed on."""

from __future__ import annotations

import csv
import re
import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlencode

import pytest
from page_running import Running
from page_visit import (  # noqa: F401  # fixtures
    DESKTOP,
    PHONE,
    WIDTHS,
    Visit,
    browser,
    context,
    findings,
    fits_the_screen,
    run_together,
    slide,
    tab,
    visiting,
)
from pypdf import PdfReader

from simulator.page.classroom.methods import VALUES
from simulator.weather.samples import samples_folder

SEASON = ["place", "year", "cereal", "sow", "base", "upper", "curve", "cutoff", "units"]
SHARED = ["base", "upper", "curve", "cutoff", "units"]  # the day's too
LATER = ["on"]  # moves what is shown, and asks for nothing
# the day is that of the link, and so is the season
SETTLED = """([season, shared, later]) => {
  const { day, season: grown } = document.body.dataset;
  const read = (text) => Object.fromEntries(new URLSearchParams(text));
  const asked = read(document.getElementById('link').value.split(/[?#]/)[1]);
  const [theDay, theSeason] = [read(day), read(grown)];
  const same = (one, keys) => keys.every(key => one[key] === asked[key]);
  const keys = [...Object.keys(asked), ...Object.keys(theDay)];
  return same(theDay, [...shared, ...keys.filter(key => ![...season, ...later].includes(key))])
    && same(theSeason, season);
}"""
CELLS = "e => [...e.querySelectorAll('[data-method]')].map(c => [c.dataset.method, c.innerText])"
HOT = {"tmax": "100 degF", "tmin": "41 degF", "base": "50 degF", "upper": "86 degF"}
# each method's outlines, and where the ruled lines of the drawing stand
DRAWN = """methods => {
  const box = document.getElementById('curve');
  const at = (which, place, name) => [...box.querySelectorAll(which)].map(
    e => [Number(e.dataset[name]), Number(e.getAttribute(place))]);
  return methods.map(([curve, cutoff]) => {
    document.querySelector(`input[name=curve][value=${curve}]`).click();
    document.querySelector(`input[name=cutoff][value=${cutoff}]`).click();
    const outline = which => box.querySelector(which).getAttribute('d');
    return { degrees: at('[data-degree]', 'y1', 'degree'), hours: at('[data-hour]', 'x1', 'hour'),
      counted: outline('.counted'), off: outline('.taken-off') };
  });
}"""
# the same of the small pictures, whose limits are ruled across the day
SMALL = """() => [...document.querySelectorAll('#day-values td:has(label)')].map(cell => {
  const [base, upper] = [...cell.querySelectorAll('.limit')].map(e => Number(e.getAttribute('y1')));
  const [x1, x2] = ['x1', 'x2'].map(end => Number(cell.querySelector('.limit').getAttribute(end)));
  return [cell.dataset.method, { degrees: [[0, base], [1, upper]], hours: [[0, x1], [24, x2]],
    counted: cell.querySelector('.counted').getAttribute('d') }];
})"""
DRAWN_DAYS = (
    HOT,
    {"tmax": "60 degF", "tmin": "20 degF", "base": "32 degF", "upper": "86 degF"},
    {"tmax": "24 degC", "tmin": "-9.5 degC", "base": "4 degC", "upper": "20 degC", "units": "si"},
    {"tmax": "31 degC", "tmin": "22 degC", "base": "4 degC", "upper": "20 degC", "units": "si"},
    # for hours, and all day, hotter than twice the span above the base
    {"tmax": "104 degF", "tmin": "41 degF", "base": "50 degF", "upper": "72 degF"},
    {"tmax": "110 degF", "tmin": "90 degF", "base": "50 degF", "upper": "68 degF"},
)


class ClassVisit(Visit):
    """A visit to the class view."""

    def open(self, query: str = "") -> ClassVisit:
        self.page.goto(f"{self.server.url}/class{query}")
        self.page.wait_for_selector("body[data-season][data-day]")
        return self.settle()

    def settle(self) -> ClassVisit:
        self.wait(SETTLED, [SEASON, SHARED, LATER])
        return self

    def link(self) -> dict[str, str]:
        return dict(parse_qsl(self.page.input_value("#link").partition("?")[2]))

    def cell(self, grid: str, key: str) -> str:
        return self.cells(grid)[key]

    def cells(self, grid: str) -> dict[str, str]:
        """The texts of all methods."""
        texts = self.page.locator(f"#{grid}").evaluate(CELLS)
        return {key: text.strip(" ●\n") for key, text in texts}


@pytest.fixture
def visit(tab: Any, server: Running, request: pytest.FixtureRequest) -> Iterator[ClassVisit]:
    with visiting(ClassVisit(tab, server, getattr(request, "param", DESKTOP))) as made:
        yield made


def area(path: str, drawn: dict[str, Any]) -> float:
    """Measure outlines on the paper that the ruled lines make: degrees times days."""
    (low, y_low), (high, y_high) = drawn["degrees"][0], drawn["degrees"][-1]
    (first, x_first), (last, x_last) = drawn["hours"][0], drawn["hours"][-1]
    square = abs((y_high - y_low) / (high - low) * 24 * (x_last - x_first) / (last - first))
    total = 0.0
    for outline in filter(None, path.split("Z")):
        points = [tuple(map(float, pair.split())) for pair in re.split("[ML]", outline)[1:]]
        total += (
            abs(
                sum(
                    x0 * y1 - x1 * y0
                    for (x0, y0), (x1, y1) in zip(points, [*points[1:], points[0]], strict=True)
                )
            )
            / 2
        )
    return total / square


@pytest.mark.long
@pytest.mark.analytic("the area that is shaded, measured on the drawing")
def test_what_is_shaded_is_what_is_counted(visit: ClassVisit) -> None:
    for day in DRAWN_DAYS:
        visit.open("?" + urlencode(day))
        drawings = visit.page.evaluate(DRAWN, list(VALUES))
        cells = visit.cells("day-values")
        for (curve, cutoff), drawn in zip(VALUES, drawings, strict=True):
            told = float(cells[f"{curve} {cutoff}"])
            # two places are printed; points are laid to 0.01 px of about 3 px a degree
            shaded = area(drawn["counted"], drawn)
            assert shaded == pytest.approx(told, abs=0.01), (day, curve, cutoff)
            hatched = area(drawn["off"], drawn)
            if cutoff == "intermediate":
                held = float(cells[f"{curve} horizontal"])
                assert shaded + hatched == pytest.approx(held, abs=0.02), (day, curve)
            else:
                assert hatched == 0.0
        visit.settle()
        span = float(day["upper"].split()[0]) - float(day["base"].split()[0])
        small, cells = visit.page.evaluate(SMALL), visit.cells("day-values")
        assert [key for key, _ in small] == [" ".join(key) for key in VALUES]
        for key, drawn in small:
            # 0.01 px of less than 1 px a degree, and a sine of 120 straight lines
            told = float(cells[key])
            assert span * area(drawn["counted"], drawn) == pytest.approx(told, abs=0.05), (day, key)


@pytest.mark.long
def test_a_slider_moves_the_day_and_axes_stand_still(visit: ClassVisit) -> None:
    visit.open("?year=2010&tmin=55+degF&base=32+degF")
    before, ruled = (
        visit.text("#day-said"),
        visit.page.evaluate(DRAWN, [["sine", "none"]])[0]["degrees"],
    )
    slide(visit, "tmax", 7)
    visit.settle()
    assert visit.link()["tmax"] == "67 degF"
    assert visit.page.input_value("#tmax-number") == "67"
    assert visit.page.get_attribute("#tmax", "aria-valuetext") == "67 °F"
    assert "to 67 °F" in visit.text("#day-said") != before
    assert visit.page.evaluate(DRAWN, [["sine", "none"]])[0]["degrees"] == ruled
    slide(visit, "tmin", 25)
    assert visit.page.input_value("#tmax-number") == "80", "the highest is taken along"
    season = visit.cell("sum-values", "sine none")
    slide(visit, "base", 8)
    visit.settle()
    assert visit.cell("sum-values", "sine none") != season
    assert visit.page.locator("#day-values .own").count() == 0
    visit.page.click("#own-limits")
    visit.settle()
    assert visit.cell("sum-values", "sine none") == season
    assert visit.page.locator("#day-values .own").count() == 1


def test_a_number_that_cannot_be_is_told_and_mended(visit: ClassVisit) -> None:
    visit.open()
    visit.page.fill("#tmax-number", "12")
    visit.page.press("#tmax-number", "Enter")
    visit.page.wait_for_selector("#problems .problem")
    assert "lies below the lowest" in visit.text("#problems")
    assert visit.page.get_attribute("#tmax-number", "aria-invalid") == "true"
    visit.page.fill("#tmax-number", "70.5")
    visit.page.press("#tmax-number", "Tab")
    visit.settle()
    assert visit.text("#problems") == ""
    assert "70.5 °F" in visit.text("#day-said")


def test_a_link_that_cannot_be_followed_is_told(visit: ClassVisit) -> None:
    for query, told in (
        ("units=metric", "'metric' is not known"),
        ("curve=cube&tmax=hot", "'cube' is not known"),
        ("year=1801", "1801 cannot be grown"),
        ("taken=1901-01-01", "does not have 1901-01-01"),
        ("sow=13-99", "not a day of the calendar"),
        ("place=<b>x</b>", "There is no place '<b>x</b>'"),
    ):
        visit.page.goto(f"{visit.server.url}/class?{query}")
        visit.page.wait_for_selector("#problems .problem")
        assert told in visit.text("#problems")
        visit.page.select_option("#cereal", "oat")
        visit.page.check("input[name=curve][value=mean]")


def test_the_season_grows_stage_by_stage(visit: ClassVisit) -> None:
    visit.open("?year=2010&on=10-25")
    assert "The seed is in the ground." in visit.text("#sum-said")
    names = visit.page.locator("#stages th").all_inner_texts()
    met = []
    for _ in names:
        if not visit.page.is_enabled("#next"):
            break
        said = visit.page.locator("#sum-said").inner_text()
        visit.page.focus("#next")
        visit.page.keyboard.press("Enter")
        visit.page.wait_for_function(
            "said => document.getElementById('sum-said').innerText !== said", arg=said
        )
        met.append(re.search(r"has reached (.*)\.", visit.text("#sum-said"))[1])
    assert met == names
    assert visit.page.locator("#stages .to-come").count() == 0
    day = visit.page.locator("#stages tr").last.locator("td").nth(1).inner_text()
    assert visit.text("#on-said") in day
    slide(visit, "on", -1)
    assert visit.page.locator("#stages .to-come").count() == 1
    asked = len(visit.asked)
    slide(visit, "on", -20)
    assert len(visit.asked) == asked, "moving the day asks for nothing"
    assert visit.page.get_attribute("#on", "aria-valuetext").endswith("2011")
    visit.page.click("#show-day")
    visit.settle()
    assert visit.link()["taken"].startswith("2011-")
    assert "Tallow Bend (an invented place)" in visit.text("#from")


def test_it_plays_or_goes_by_weeks(visit: ClassVisit) -> None:
    visit.open("?year=2010&on=12-01")
    visit.page.click("#play")
    assert visit.text("#play") == "Stop"
    assert visit.page.get_attribute("#sum-said", "aria-live") == "off"
    visit.page.wait_for_selector("#on-said:not(:has-text('Dec 1'))")
    visit.page.click("#play")
    moved = visit.text("#on-said")
    assert visit.page.get_attribute("#sum-said", "aria-live") == "polite"
    time.sleep(0.2)
    assert visit.text("#on-said") == moved
    visit.page.wait_for_selector("#sum-said p:has-text('after sowing')")
    visit.page.emulate_media(reduced_motion="reduce")
    visit.open("?year=2010&on=12-01")
    visit.page.click("#play")
    assert (visit.text("#play"), visit.text("#on-said")) == ("A week on", "Dec 8")


def test_answers_are_folded_and_change_with_what_is_shown(visit: ClassVisit) -> None:
    visit.open("?year=2010&" + urlencode(HOT))
    folded = visit.page.locator("#day-questions details, #season-questions details")
    assert folded.count() == 11
    assert visit.page.locator("details[open]").count() == 0
    first = visit.page.locator("#day-questions summary").first
    first.focus()
    visit.page.keyboard.press("Enter")
    assert visit.cell("day-values", "sine horizontal") in visit.text("#day-questions details[open]")
    slide(visit, "tmax", -9)
    visit.settle()
    assert visit.cell("day-values", "sine horizontal") in visit.text("#day-questions details[open]")


def test_a_link_restores_what_was_seen(visit: ClassVisit) -> None:
    visit.open("?" + urlencode({**HOT, "place": "pellow-strand", "year": "2003", "units": "us"}))
    visit.page.check("input[name=curve][value=ends]")
    visit.page.select_option("#cereal", "wheat")
    slide(visit, "sow", 4)
    slide(visit, "on", -30)
    visit.settle()
    other = ClassVisit(visit.page.context.new_page(), visit.server, DESKTOP)
    other.open("?" + visit.page.input_value("#link").partition("?")[2])
    for part in (
        "#day-said",
        "#day-values",
        "#working",
        "#sum-said",
        "#sum-values",
        "#stages",
        "#season-questions",
        "#curve",
        "#sums svg .mark-line",
    ):
        seen, again = (
            one.page.locator(part).first.inner_html().replace(' class=""', "")
            for one in (visit, other)
        )
        assert again == seen, part
    assert not other.wrong
    other.page.close()
    visit.page.go_back()
    visit.page.go_back()
    visit.settle()
    assert visit.page.input_value("#cereal") == "wheat"
    assert visit.link()["sow"] == "10-22"


def test_units_change_no_question(visit: ClassVisit) -> None:
    visit.open("?year=2010&" + urlencode(HOT))
    before = float(visit.cell("day-values", "sine horizontal"))
    visit.page.check("#units-si")
    visit.settle()
    after = float(visit.cell("day-values", "sine horizontal"))
    assert before == pytest.approx(1.8 * after, abs=0.005 + 1.8 * 0.005)
    assert visit.link()["tmax"] == HOT["tmax"]
    assert visit.page.input_value("#tmin-number") == "5"
    assert "°C d" in visit.text("#sum-said")


def test_a_file_of_ones_own(visit: ClassVisit, tmp_path: Path) -> None:
    sample = (samples_folder() / "quiver-flats.csv").read_text(encoding="utf-8")
    file = tmp_path / "<b>mine.csv"
    file.write_text("\n".join(row for row in sample.splitlines() if not row.startswith("#")))
    visit.open()
    visit.page.click("text=Read my own weather file")
    visit.page.set_input_files("#file", file)
    visit.page.click("#read")
    visit.page.wait_for_selector("#read-said .problem")
    assert "latitude" in visit.text("#read-said")
    visit.page.fill("#latitude", "39")
    visit.page.click("#read")
    visit.page.wait_for_selector("#read-said:has-text('falls can be used')")
    visit.settle()
    assert "invented" not in visit.text("#season-title")
    assert "must choose that file again" in visit.text("#link-hint")
    assert visit.page.locator("main b").count() == 0


@pytest.mark.parametrize("visit", [DESKTOP, PHONE], indirect=True, ids=["desktop", "phone"])
def test_nothing_hinders_anyone(visit: ClassVisit) -> None:
    visit.open("?cutoff=intermediate&" + urlencode(HOT))
    curve, asked = (visit.page.locator(one).bounding_box() for one in ("#curve", "#day-asked"))
    if visit.page.viewport_size == PHONE:  # the curve comes first, whole, and the day below it
        assert curve["y"] + curve["height"] < min(asked["y"], PHONE["height"])
    for details in visit.page.locator("details").all():
        details.evaluate("e => e.open = true")
    width = visit.page.viewport_size["width"]
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    visit.page.fill("#tmax-number", "12")
    visit.page.press("#tmax-number", "Enter")
    visit.page.wait_for_selector("#problems .problem")
    assert findings(visit) == []


def test_every_control_is_reached_by_the_keyboard(visit: ClassVisit) -> None:
    visit.open("?" + urlencode(HOT))
    wanted = set(
        visit.page.evaluate(
            "[...document.querySelectorAll("
            "'main :is(select, input:not([type=radio]), button):enabled')]"
            ".filter(e => e.offsetParent && !e.closest('details')).map(e => e.id || e.dataset.name)"
        )
    )
    met = set()
    for _ in range(90):
        visit.page.keyboard.press("Tab")
        name, seen = visit.page.evaluate(
            "(() => { const e = document.activeElement, s = getComputedStyle(e);"
            " return [e.id || e.dataset.name,"
            "  s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2]; })()"
        )
        met.add(name)
        assert seen or name not in wanted, f"focus cannot be seen on {name}"
    assert wanted <= met
    visit.page.focus("input[name=curve]:checked")
    visit.page.keyboard.press("ArrowUp")
    visit.settle()
    assert visit.link()["curve"] == "triangle"
    assert visit.text("#name-of").startswith("Single triangle")
    visit.page.focus("input[name=method]:checked")
    visit.page.keyboard.press("ArrowRight")
    visit.settle()
    assert (visit.link()["curve"], visit.link()["cutoff"]) == ("triangle", "intermediate")
    assert visit.page.is_checked("input[name=cutoff][value=intermediate]")
    visit.page.click("[data-method='sine vertical'] .small")
    visit.settle()
    assert visit.text("#name-of") == "Single sine, vertical cutoff"
    cell = visit.page.locator("[data-method='sine vertical'] input")
    value = visit.cell("day-values", "sine vertical")
    assert cell.get_attribute("aria-label") == f"single sine, vertical cutoff: {value} °F d"


@pytest.mark.long
def test_a_class_guesses_before_it_is_shown(visit: ClassVisit) -> None:
    day = {"tmax": "100 degF", "tmin": "40 degF", "base": "50 degF", "upper": "86 degF"}
    visit.open("?" + urlencode({**day, "curve": "triangle", "units": "us"}) + "#guess")
    page, asked = visit.page, len(visit.asked)
    for told in ("#day-said", "#day-values", "#day-questions", "#curve .air", "#curve .counted"):
        assert page.locator(f"{told}:visible").count() == 0, told
    assert page.locator("#link").input_value().endswith("#guess")
    assert page.evaluate("scrollY") == 0  # the picture to draw in is in sight
    # drawn as the method has it, with the keys alone
    page.focus("#by-hours summary")
    page.keyboard.press("Enter")
    for hour, degrees in zip(range(0, 25, 3), (40, 55, 70, 85, 100, 85, 70, 55, 40), strict=True):
        field = page.locator(f"input[data-hour='{hour}']")
        field.focus()
        for _ in range(40):
            if not (left := degrees - int(field.input_value())):
                break
            step = "Page" if abs(left) >= 12 else "Arrow"
            page.keyboard.press(step + ("Up" if left > 0 else "Down"))
        assert left == 0, hour
    assert page.get_attribute("input[data-hour='9']", "aria-valuetext") == "85 °F"
    assert findings(visit) == []
    page.click("#show-it")
    said, value = visit.text("#guess-said"), visit.cell("day-values", "triangle horizontal")
    assert f"Single triangle, horizontal cutoff counts {value} °F d." in said
    assert f"The curve drawn has {value} °F d above the base, just right." in said
    assert page.locator("#day-said").is_visible()
    page.click("#show-it")
    assert not page.locator("#day-said").is_visible()
    for guess in ("10", "12.5", "30"):
        page.fill("#guess-sum", guess)
        page.press("#guess-sum", "Enter")
    page.reload()
    page.wait_for_selector("body[data-season][data-day]")
    visit.settle()
    assert "4 guesses of this day" in visit.text("#guess-kept")
    page.locator("#curve").scroll_into_view_if_needed()
    box = page.locator("#curve svg").bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.3, box["y"] + box["height"] * 0.5)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.7, box["y"] + box["height"] * 0.2, steps=4)
    page.mouse.up()
    assert page.locator("#curve .guessed").get_attribute("d").count("L") > 10
    page.click("#rub-out")
    assert page.locator("#curve .guessed").count() == 0
    page.check("#units-si")
    visit.settle()
    page.fill("#guess-sum", "5")
    page.click("#show-it")
    shown, said = float(visit.cell("day-values", "triangle horizontal")), visit.text("#guess-said")
    assert f"The last guess is 5.00, {shown - 5:.2f} too low." in said
    assert "The class: 5 guesses from 5.0 to 16.7; the middle one is 6.9" in said
    assert page.locator("#guesses circle").count() == 5
    assert findings(visit) == []
    page.click("#forget")
    assert page.evaluate("localStorage.length") == 0
    assert "All guesses on this machine are cleared." in visit.text("#guess-said")
    assert not any(
        "guess" in url.partition("#")[0].partition("class_guess.js")[0]
        for url in visit.asked[asked:]
    )
    page.uncheck("#guess-first")
    assert page.locator("#curve .air").count() == 1
    assert "#" not in page.url


@pytest.mark.long
def test_what_is_taken_away_has_what_is_seen(visit: ClassVisit) -> None:
    visit.open("?year=2010&" + urlencode(HOT))
    slide(visit, "tmax", -5)
    visit.page.check("input[name=curve][value=ends]")
    visit.settle()
    files = {}
    for name, start, told in (
        ("day.csv", b"# made_by", b"thermal time (degF d)"),
        ("curve.csv", b"# made_by", b"hour (h)"),
        ("season-days.csv", b"# made_by", b"sum (degF d)"),
        ("day.svg", b"<svg", b"Average ends clamped"),
        ("day.png", b"\x89PNG", b""),
        ("season-sum.svg", b"<svg", b"an invented place"),
        ("season-sum.png", b"\x89PNG", b""),
    ):
        with visit.page.expect_download() as caught:
            visit.page.click(f"[data-name='{name}']")
        files[name] = Path(caught.value.path()).read_bytes()
        assert files[name].startswith(start), name
        assert told in files[name], name
        assert caught.value.suggested_filename == name
        visit.page.wait_for_selector(f"#take-said:has-text('{name} is made.')")
    lines = files["day.csv"].decode().splitlines()
    found = list(csv.reader(line for line in lines if line[0] != "#"))[1:]
    for (curve, cutoff), row in zip(VALUES, found, strict=True):
        assert f"{float(row[2]):.2f}" == visit.cell("day-values", f"{curve} {cutoff}")


def test_names_of_stages_have_room_or_stand_below(visit: ClassVisit) -> None:
    visit.open("?year=2010&on=05-31")
    stages = visit.page.locator("#stages th").all_inner_texts()
    for width in WIDTHS:
        visit.page.set_viewport_size({"width": width, "height": 800})
        fits_the_screen(visit, "#sums")
        visit.page.wait_for_timeout(50)
        assert run_together(visit, "#sums") == set(), width
        drawn = visit.page.locator("#sums svg text").all_text_contents()
        below = visit.text("#unnamed")
        for stage in stages:
            assert (stage in drawn) != (f"{stage} on " in below), (width, stage)
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width


def test_why_lines_part_or_not_is_said(visit: ClassVisit) -> None:
    visit.open("?year=2010")
    lines = visit.page.locator("#sums .mark-line path")
    assert "less than the simulator: the base is 40 °F and not 32 °F" in visit.text("#apart")
    assert len({line.get_attribute("d") for line in lines.all()}) == 4
    visit.page.click("#own-limits")
    visit.settle()
    assert visit.text("#apart").startswith("The two lines are one")
    assert len({line.get_attribute("d") for line in lines.all()}) == 2  # what is past, and all


@pytest.mark.parametrize("visit", [DESKTOP, PHONE], indirect=True, ids=["desktop", "phone"])
def test_paper_has_a_side_each(visit: ClassVisit, tmp_path: Path) -> None:
    visit.open("?year=2010&taken=2010-12-08")
    for paper in ("Letter", "A4"):
        visit.page.pdf(path=tmp_path / "page.pdf", format=paper)
        day, season, questions = (
            " ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "page.pdf").pages
        )
        assert "Dec 8 2010 at Tallow Bend (an invented place), from" in day
        assert "above 40 °F and up to 86 °F" in day
        assert "Rye sown on Oct 20 2010 at Tallow Bend (an invented place)" in season
        assert visit.text("#apart") in season
        for stage in visit.page.locator("#stages th").all_inner_texts():
            assert f"{stage} " in season
        assert "How much warmth does a leaf take?" in questions
        for control in ("The simulator's own limits", "Let it grow", "Copy the link", "(CSV)"):
            assert control not in day + season + questions
    visit.page.emulate_media(media="print")
    for hidden in ("#day-asked", "#season-asked", "#play", "#link", "#guess-first"):
        assert not visit.page.locator(hidden).is_visible()
    for shown in ("#curve svg", "#day-said", "#day-values .small svg", "#sums svg", "#stages"):
        assert visit.page.locator(shown).first.is_visible()


@pytest.mark.long
def test_how_long_a_slider_takes(visit: ClassVisit, record_property: Any) -> None:
    """Print each slider's median from input to paint."""
    visit.open("?year=2010")
    for key, measure in (
        ("tmax", "input to paint"),
        ("base", "season to paint"),
        ("on", "day to paint"),
        ("sow", "season to paint"),
    ):
        visit.page.evaluate("performance.clearMeasures()")
        for step in range(4):
            slide(visit, key, 1 if step % 2 else -1)
            visit.settle()
            visit.page.evaluate("new Promise(done => requestAnimationFrame(done))")
        taken = visit.page.evaluate(
            f"performance.getEntriesByName('{measure}').map(e => e.duration)"
        )
        assert len(taken) >= 3
        record_property(f"{key} [ms]", round(statistics.median(taken)))
        print(f"{key}: {statistics.median(taken):.0f} ms")
