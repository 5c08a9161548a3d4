"""The page in a real browser: every control, files, links, the keyboard, and who it talks to."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

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

from simulator.answers.season.panels import STAGES
from simulator.weather.samples import samples_folder

SLIDERS = ("sow", "seeding", "nitrogen", "fed", "end", "rain", "warmth", "target")
BUSY = "?year=2015&change=rain+november+%3D+11+inch&pin-sow=11-20&nitrogen-timing=02-15"


@pytest.fixture
def visit(tab: Any, server: Running, request: pytest.FixtureRequest) -> Iterator[Visit]:
    with visiting(Visit(tab, server, getattr(request, "param", DESKTOP))) as made:
        yield made


def act(visit: Visit, key: str, value: object) -> None:
    """Move a control: a slider by steps, a list or a field to a text, a button by a click."""
    control = visit.page.locator(f"#{key}")
    if isinstance(value, int):
        slide(visit, key, value)
    elif value is True or value is None:
        control.click()
    elif control.evaluate("e => e.tagName") == "SELECT":
        control.select_option(str(value))
    else:
        control.fill(str(value))
        control.press("Enter")


@pytest.mark.long
def test_every_control_changes_the_answer(visit: Visit) -> None:
    visit.open("?year=2015&nitrogen=60+lb/acre")
    moves: list[tuple[str, object]] = [
        ("place", "sorrel-ledge"),
        ("year", "2015"),
        ("soil", "loam"),
        ("previous-crop", "corn"),
        ("measured summary", None),
        ("soil-nitrate", "90 lb/acre to 24 inch on 09-20"),
        ("organic-matter", "1.5"),
        ("cereal", "wheat"),
        ("fertilizer", "urea"),
        ("sow", 9),
        ("seeding", 2),
        ("nitrogen", 3),
        ("share", "half at sowing, half on"),
        ("fed", -12),
        ("end", 6),
        ("rain-on", None),
        ("rain", 8),
        ("rain-month", "December"),
        ("warmth", -5),
        ("warm-span", "November"),
        ("words", "rain oct..dec * 0.3"),
        ("target", -4),
        ("ended-by", "tillage"),
        ("pin", None),
        ("sow", 4),
        ("unpin", None),
        ("as-recorded", None),
        ("units-si", None),
        ("fit", None),
    ]
    unchanged, timed = [], {}
    after = visit.shown()
    for key, value in moves:
        before = after
        visit.page.evaluate("performance.clearMeasures()")
        act(visit, key, value)
        visit.settle()
        after = visit.shown()
        if after == before and key != "measured summary":  # which unfolds two fields
            unchanged.append(key)
        timed[key] = visit.page.evaluate("performance.getEntriesByName('input to paint').length")
    assert not unchanged
    assert all(timed[key] for key in SLIDERS), "page_drag.py tells how long it takes"
    assert "kg/ha" in visit.text("#numbers")
    assert visit.page.locator("#problems").inner_text() == ""


def test_before_stands_beside_after_on_axes_that_stand_still(visit: Visit) -> None:
    visit.open("?year=2015")
    ticks = visit.page.locator(".pointed svg .role-axis-label").all_inner_texts()
    alone = visit.text("#answer .first")
    slide(visit, "rain", 12)
    visit.settle()
    assert visit.page.locator(".pointed svg .role-axis-label").all_inner_texts() == ticks
    assert visit.page.locator("#key li").count() == 2
    assert f"instead of {alone.rpartition(' makes ')[2].partition(' on ')[0]}" in visit.text(
        "#answer"
    )
    assert visit.text("#words-made").startswith("Now changed: rain november = ")


def test_series_differ_in_dash_in_every_panel(visit: Visit) -> None:
    visit.open(f"{BUSY}&change=temperature+november+-+4+degF")
    dashes = visit.page.evaluate(
        "[...document.querySelectorAll('.picture .mark-line')].map(g => [...g.querySelectorAll("
        "'path')].map(p => [p.getAttribute('stroke'), p.getAttribute('stroke-dasharray')]))"
    )
    drawn = [tuple(one) for panel in dashes for one in panel]
    assert len(dashes) >= 7
    assert len({colour for colour, _ in drawn}) == len({dash for _, dash in drawn}) == 3
    assert len(set(drawn)) == 3, "a series has its one dash in all panels"


def test_the_axis_takes_in_the_target(visit: Visit) -> None:
    visit.open("?place=hollin-reach")
    parts = ("background", "mark-rule line[stroke-dasharray='5,4']")
    frame, rule = (visit.page.locator(f"#chance .{part}").first.bounding_box() for part in parts)
    assert frame["x"] < rule["x"] < frame["x"] + frame["width"]


def test_words_are_read_as_sliders_write_them(visit: Visit) -> None:
    visit.open("?year=2015")
    act(
        visit,
        "words",
        "rain november = 11 inch; temperature oct..dec - 5 degF; tmin march - 1 degC",
    )
    visit.settle()
    assert visit.page.locator("#rain-on").is_checked()
    assert visit.text("#rain-said") == "11.0 in"
    assert visit.text("#warmth-said") == "−5.0 °F"
    visit.page.locator("#sow").focus()
    act(visit, "words", "rain novembr = 11 inch")
    visit.settle()
    problem = visit.text("#words-wrong")  # at its field, with one example
    assert "'novembr' is not a month" in problem
    assert "Write its name" in problem
    assert problem.count("rain november =") == 1 and "oct..dec" not in problem
    assert visit.page.locator("#words").get_attribute("aria-invalid") == "true"
    assert visit.page.locator("#words").get_attribute("aria-errormessage") == "words-wrong"
    below, field = visit.page.evaluate(  # at once: the page may still scroll to it
        "['words-wrong', 'words'].map(id => {"
        " const box = document.getElementById(id).getBoundingClientRect();"
        " return {top: box.top, bottom: box.bottom}; })"
    )
    assert 0 <= below["top"] - field["bottom"] < 20
    assert "stands at its field" in visit.text("#problems")
    act(visit, "words", "")
    visit.settle()
    assert visit.text("#problems") == ""
    assert visit.page.locator("#words-wrong").count() == 0


def test_a_good_file_is_read(visit: Visit, tmp_path: Path) -> None:
    hostile = "<img src=x onerror=alert(1)>"
    sample = (samples_folder() / "quiver-flats.csv").read_text(encoding="utf-8")
    rows = [row for row in sample.splitlines() if not row.startswith("#")]
    file = tmp_path / f"{hostile.replace('/', '')}.csv"
    file.write_text("\n".join([f"# site: {hostile}", "# latitude: 39.1", *rows]), encoding="utf-8")
    visit.open("?year=2015")
    visit.page.click("#own summary")
    visit.page.set_input_files("#file", file)
    visit.page.click("#read")
    visit.page.wait_for_selector("#read-said:has-text('30 falls can be used')")
    visit.settle()
    assert hostile in visit.text("#place option:checked")
    assert visit.page.locator("img").count() == 0
    assert "invented" not in visit.text("#caution")
    assert "must choose that file again" in visit.text("#link-hint")
    link = visit.page.input_value("#link")
    another = visit.page.context.browser.new_context()
    other = Visit(another.new_page(), visit.server, DESKTOP)
    other.page.goto(link)
    other.page.wait_for_selector("#place-wrong")
    assert "Choose the file again" in other.text("#place-wrong")
    assert other.text("#answer") == "Nothing is grown yet."
    another.close()


def test_a_bad_file_is_told_by_row_and_column(visit: Visit, tmp_path: Path) -> None:
    file = tmp_path / "bad.csv"
    file.write_text(
        "date,tmax (degF),tmin (degF),rain (inch)\n2001-09-01,90,70,0\n"
        "2001-09-02,x,70,0\n2001-09-03,60,70,-1\n"
    )
    visit.open("?year=2015")
    before = visit.shown()
    visit.page.click("#own summary")
    visit.page.set_input_files("#file", file)
    visit.page.fill("#latitude", "31.3")
    visit.page.click("#read")
    visit.page.wait_for_selector("#faults table")
    told = visit.text("#faults")
    assert "bad.csv, line 3, column 'tmax (degF)'" in told
    assert "bad.csv, line 4" in told
    assert visit.shown() == before
    # another file does not keep what was said of this one
    visit.page.fill("#site", "north")
    visit.page.set_input_files("#file", samples_folder() / "quiver-flats.csv")
    assert visit.page.input_value("#latitude") == visit.page.input_value("#site") == ""
    assert "the latitude, site said of the last one are taken out" in visit.text("#read-said")
    assert visit.text("#faults") == ""


@pytest.mark.long
def test_a_link_restores_what_was_seen(visit: Visit) -> None:
    visit.open("?place=hollin-reach&year=2003")
    for key, value in (
        ("sow", 5),
        ("nitrogen", 4),
        ("share", "all of it on"),
        ("rain", 3),
        ("pin", None),
        ("cereal", "oat"),
        ("units-si", None),
    ):
        act(visit, key, value)
    visit.settle()
    other = Visit(visit.page.context.new_page(), visit.server, DESKTOP)
    other.page.goto(visit.page.input_value("#link"))
    other.page.wait_for_selector("#key li", state="attached")
    other.settle()
    for part in (
        "#answer",
        "#rest",
        "#numbers",
        "#cost",
        "#chance-said",
        "#pinned-said",
        "#command",
    ):
        assert other.page.locator(part).inner_html() == visit.page.locator(part).inner_html(), part
    for key in (*SLIDERS, "cereal", "share"):
        assert other.page.input_value(f"#{key}") == visit.page.input_value(f"#{key}"), key
    other.page.close()
    assert not other.wrong


def test_back_and_forward(visit: Visit) -> None:
    visit.open("?year=2015")
    first = visit.text("#answer")
    visit.page.select_option("#cereal", "oat")
    second = visit.settle().text("#answer")
    visit.page.select_option("#soil", "clay")
    visit.settle()
    for go, wanted in (
        (visit.page.go_back, second),
        (visit.page.go_back, first),
        (visit.page.go_forward, second),
    ):
        go()
        visit.page.wait_for_selector(f"#answer:has-text('{wanted[:40]}')")
        assert visit.settle().text("#answer") == wanted
    assert visit.page.input_value("#cereal") == "oat"


def test_changing_units_changes_no_plan(visit: Visit) -> None:
    visit.open("?year=2015")
    before = visit.page.locator("#numbers tbody td").first.inner_text().replace(",", "")
    visit.page.check("#units-si")
    visit.settle()
    pounds_to_kilograms = 1.120851
    after = float(visit.page.locator("#numbers tbody td").first.inner_text().replace(",", ""))
    # both are printed to tens: half of ten pounds, and half of ten kilograms
    assert abs(after - float(before) * pounds_to_kilograms) <= 5.0 * pounds_to_kilograms + 5.0
    assert visit.text("#seeding-said") == "101 kg/ha"
    assert "seeding=90+lb" in visit.page.input_value("#link")


def test_never_more_than_one_answer_is_asked_for_at_a_time(visit: Visit) -> None:
    visit.open("?year=2015")
    now, most = [0], [0]

    def begins(request: Any) -> None:
        if "/answer" in request.url:
            now[0] += 1
            most[0] = max(most[0], now[0])

    def ends(request: Any) -> None:
        now[0] -= "/answer" in request.url

    visit.page.on("request", begins)
    visit.page.on("requestfinished", ends)
    box = visit.page.locator("#sow").bounding_box()
    visit.page.mouse.move(box["x"] + 10, box["y"] + box["height"] / 2)
    visit.page.mouse.down()
    for step in range(20):
        visit.page.mouse.move(box["x"] + 10 + 6 * step, box["y"] + box["height"] / 2)
    visit.page.mouse.up()
    visit.settle()
    visit.page.remove_listener("request", begins)
    visit.page.remove_listener("requestfinished", ends)
    assert most[0] == 1
    said = visit.text("#sow-said")
    assert f"sown on {said} 2015" in visit.text("#answer")


@pytest.mark.long
def test_what_is_taken_away(visit: Visit) -> None:
    visit.open(BUSY)
    for selector, start in (
        ("[data-get='/table.csv']", b"#"),
        ("[data-get='/picture/season.svg']", b"<svg"),
        ("[data-sheet=pdf]", b"%PDF"),
    ):
        with visit.page.expect_download() as caught:
            visit.page.click(selector)
        assert Path(caught.value.path()).read_bytes().startswith(start)
    visit.open("?year=2015")
    visit.page.select_option("#sheet", "whatif")
    visit.page.click("[data-sheet=html]")
    visit.page.wait_for_selector("#take-said:has-text('nothing is changed')")


@pytest.mark.long
def test_the_keyboard_alone_is_enough(visit: Visit) -> None:
    visit.open("?year=2015&nitrogen-timing=02-15")
    wanted = set(
        visit.page.evaluate(
            "[...document.querySelectorAll('main :is(select, input, button):enabled, main "
            "summary')]"
            ".filter(e => e.offsetParent && !e.closest('details:not([open]) > *:not("
            "summary)')).map(e => e.id || e.dataset.get || e.dataset.sheet || e.textContent)"
        )
    )
    met, faint = set(), []
    for _ in range(90):
        visit.page.keyboard.press("Tab")
        name, seen = visit.page.evaluate(
            "(() => { const e = document.activeElement, s = getComputedStyle(e); return ["
            "e.id || e.dataset.get || e.dataset.sheet || e.textContent,"
            "s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2]; })()"
        )
        met.add(name)
        if not seen and name in wanted:
            faint.append(name)
    assert wanted <= met
    assert not faint, "focus cannot be seen"
    before = visit.text("#answer")
    slide(visit, "sow", 3)
    assert visit.page.locator("#sow").get_attribute("aria-valuetext") == "October 23"
    visit.page.keyboard.press("PageUp")
    assert visit.settle().text("#answer") != before
    visit.page.focus("#rain-on")
    visit.page.keyboard.press("Space")
    visit.page.focus("#cereal")
    visit.page.keyboard.press("w")
    visit.page.focus("#pin")
    visit.page.keyboard.press("Enter")
    visit.settle()
    assert visit.text("#pinned-said").startswith("Pinned: wheat sown on")
    assert "#main" in visit.page.locator(".skip").get_attribute("href")


@pytest.mark.parametrize("visit", [DESKTOP, PHONE], indirect=True, ids=["desktop", "phone"])
def test_no_finding_of_accessibility(visit: Visit, tmp_path: Path) -> None:
    file = tmp_path / "bad.csv"
    file.write_text("date,tmax (degF),tmin (degF),rain (inch)\n2001-09-02,x,70,0\n")
    visit.open(BUSY)
    visit.page.click("#own summary")
    visit.page.set_input_files("#file", file)
    visit.page.click("#read")
    visit.page.wait_for_selector("#faults table")
    visit.page.click("#mend")
    visit.page.wait_for_selector("#mended summary")
    visit.page.click("#mended summary")
    act(visit, "words", "rain novembr")
    visit.page.wait_for_selector("#problems .problem")
    visit.page.emulate_media(color_scheme="light")
    assert findings(visit) == []
    visit.page.emulate_media(color_scheme="dark")  # nothing but colours differs
    assert findings(visit, "color-contrast") == []
    for key in SLIDERS:
        value = visit.page.locator(f"#{key}").get_attribute("aria-valuetext")
        assert value, key
    assert visit.page.locator("#answer").get_attribute("aria-live") == "polite"


@pytest.mark.parametrize("visit", [PHONE], indirect=True)
def test_a_small_screen_holds_it(visit: Visit) -> None:
    visit.open(BUSY)
    assert visit.page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    small = visit.page.evaluate(
        "[...document.querySelectorAll('main button, main select, main input')].filter(e =>"
        " e.offsetParent && e.getBoundingClientRect().height < 18).map(e => e.id)"
    )
    assert not small
    sheet = visit.page.locator("#bench")
    for pulled, share in (("half", 0.5), ("full", 0.9), ("low", 0.15)):
        assert sheet.get_attribute("data-sheet") == pulled
        box = sheet.bounding_box()
        assert abs(box["y"] + box["height"] - PHONE["height"]) < 1, "it stays below"
        assert box["height"] < share * PHONE["height"]
        visit.page.click("#pull")
    visit.page.focus("#pull")
    for key, pulled in (("ArrowUp", "half"), ("ArrowUp", "full"), ("ArrowDown", "half")):
        visit.page.keyboard.press(key)
        if pulled != "half" or key == "ArrowDown":
            assert sheet.get_attribute("data-sheet") == pulled
    for key in ("sow", "end", "rain", "target"):  # the handle in use is not under it
        slide(visit, key, 1)
        visit.settle()
        visit.page.wait_for_function(  # the page scrolls it clear
            "key => { const box = document.getElementById(key).getBoundingClientRect();"
            " const edge = document.getElementById('bench').getBoundingClientRect().top;"
            " return box.top >= 0 && box.bottom <= edge; }",
            arg=key,
        )
    line = visit.page.locator("#growth .line.changed").first
    before = line.get_attribute("d"), visit.text("#answer .first")
    slide(visit, "end", -8)
    visit.settle()
    assert line.get_attribute("d") != before[0]
    assert visit.text("#answer .first") != before[1]


@pytest.mark.long
@pytest.mark.parametrize("query", [BUSY, "?place=hollin-reach&sow=01-10&end=05-20", "?units=si"])
def test_stages_are_named_and_no_letters_overlap_at_any_width(visit: Visit, query: str) -> None:
    visit.open(query)
    for width in WIDTHS:
        visit.page.set_viewport_size({"width": width, "height": 800})
        fits_the_screen(visit, "#season")
        for picture in ("#season", "#growth", "#chance"):
            assert run_together(visit, picture) == set(), (width, picture)
        drawn = set(visit.page.locator("#season svg text").all_text_contents())
        assert {name for _, name in STAGES} <= drawn, width
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_table_tells_how_a_change_moves_the_stages(visit: Visit) -> None:
    visit.open("?year=2015&change=temperature+oct..mar+%2B+5+degF&pin-sow=11-20")
    heads = visit.page.locator("#stages thead th").all_inner_texts()
    assert heads == ["stage", "as recorded", "changed", "pinned plan"]
    rows = {
        row.locator("th").inner_text(): row.locator("td").all_inner_texts()
        for row in visit.page.locator("#stages tbody tr").all()
    }
    before, after, _ = rows["jointing"]
    told = re.fullmatch(r"(\w{3} \d+), (\d+) days? (sooner|later)", after)
    first, then = (datetime.strptime(f"{day} 2016", "%b %d %Y") for day in (before, told[1]))
    assert (then - first).days == int(told[2]) * (1 if told[3] == "later" else -1)
    visit.open("?year=2015")
    assert "sooner" not in visit.text("#stages")


@pytest.mark.parametrize("visit", [DESKTOP, PHONE], indirect=True, ids=["desktop", "phone"])
def test_a_sheet_of_paper_holds_it(visit: Visit, tmp_path: Path) -> None:
    """One side has the plan, the answer and the season as wide as the page; the other the rest."""
    visit.open(f"{BUSY}&change=temperature+oct..mar+%2B+5+degF&pin-nitrogen=60+lb/acre")
    for paper in ("Letter", "A4"):
        visit.page.pdf(path=tmp_path / "page.pdf", format=paper)
        front, back = (
            " ".join(page.extract_text().split()) for page in PdfReader(tmp_path / "page.pdf").pages
        )
        for told in (
            visit.page.locator("#in-words").text_content(),
            visit.text("#answer"),
            visit.text("#caution"),
            "Pinned: rye sown on Nov 20",
            "jointing",
            "soil nitrate",
            "week's mean",
        ):
            assert told in front
        for told in ("chance of so much", "nitrogen in the shoots", "sooner", "total", "herbicide"):
            assert told in back
        for control in (
            "ended by",
            "Fit the axes",
            "The axes stand still",
            "What would mend it",
            "Take the pin out",
            "enough is",
            "A link to",
        ):
            assert control not in front + back
    before = visit.page.locator("#season svg").bounding_box()["width"]
    visit.page.emulate_media(media="print")
    visit.page.evaluate("void dispatchEvent(new Event('beforeprint'))")
    page = visit.page.locator("main").bounding_box()["width"]
    assert visit.page.locator("#season svg").bounding_box()["width"] > 0.97 * page
    visit.page.emulate_media(media="screen")
    visit.page.evaluate("void dispatchEvent(new Event('afterprint'))")
    fits_the_screen(visit, "#season")
    assert visit.page.locator("#season svg").bounding_box()["width"] == pytest.approx(before, abs=1)


SIZES = (
    {"width": 1440, "height": 900},
    {"width": 1024, "height": 768},
    {"width": 390, "height": 844},
)


@pytest.mark.parametrize("visit", SIZES, indirect=True, ids=["desktop", "tablet", "phone"])
def test_the_cost_of_a_drenched_november_and_its_remedy(visit: Visit) -> None:
    """What it costs is read without scrolling, what mends it after a click, and taken over."""
    visit.open("?change=rain+november+%3D+11+inch")
    first = visit.text("#answer .first")
    costs = re.fullmatch(
        r"11 in of rain in November costs (\d+) %: ([\d,]+) instead of ([\d,]+) lb/ac; enough in "
        r"(\d+) of 30 falls, not (\d+)",
        first,
    )
    assert costs, first
    largest = "e => parseFloat(getComputedStyle(e).fontSize)"
    told, others = (visit.page.locator(part) for part in ("#answer .first", "#answer p, #rest p"))
    assert told.evaluate(largest) >= max(one.evaluate(largest) for one in others.all())
    visit.page.click("#mend")
    visit.page.wait_for_selector("#mended[data-of] p")
    seen = [
        visit.page.locator(part) for part in ("#answer .first", "#mended p", "#mended p button")
    ]
    if "so that whether it is a gain or a loss cannot be told" in visit.text("#answer"):
        seen.append(visit.page.locator("#answer .untold"))
    seen.append(visit.page.locator("#growth"))
    for part in seen:
        box = part.bounding_box()
        assert box["y"] >= 0 and box["y"] + box["height"] <= visit.page.viewport_size["height"]
    assert visit.page.evaluate("scrollY") == 0
    remedy = visit.text("#mended p")
    made = re.search(r": ([\d,]+) lb/ac, ", remedy)
    assert made, remedy
    visit.page.click("#mended p button")
    visit.settle()
    assert visit.text("#answer .first").partition(": ")[2].startswith(made[1])
    if visit.page.viewport_size["width"] >= 1024:  # all handles beside an answer in sight
        for key in SLIDERS:
            visit.page.locator(f"#{key}").scroll_into_view_if_needed()
            box = visit.page.locator("#answer .first").bounding_box()
            assert 0 <= box["y"] < visit.page.viewport_size["height"] / 2, key


def test_a_day_is_read_in_all_panels_at_once(visit: Visit) -> None:
    visit.open("?change=rain+november+%3D+11+inch")
    visit.page.locator("#growth").hover()
    panels = visit.page.locator("#growth .over span, #season .over span").all_inner_texts()
    assert len(panels) == 5
    (date,) = {text.partition(":")[0] for text in panels}
    assert re.fullmatch(r"[A-Z][a-z]{2} \d+", date)
    assert visit.page.locator("#growth .over i, #season .over i").count() == 5
    # a fall tells its year where its line is pointed at
    box = visit.page.locator("#growth .falls path").bounding_box()
    visit.page.mouse.move(box["x"] + box["width"] * 0.9, box["y"] + box["height"] * 0.55)
    assert re.fullmatch(r"\d{4}: [\d,]+ lb/ac", visit.text("#growth .over b"))
    visit.page.mouse.move(2, 2)
    assert visit.page.locator(".over").count() == 0
    visit.page.focus("#day")
    texts = []
    for _ in range(2):
        visit.page.keyboard.press("ArrowRight")
        texts.append(visit.text("#growth .over span"))
        assert texts[-1] in visit.page.get_attribute("#day", "aria-valuetext")
    assert texts[0] != texts[1]
    # the mean of the sentences is where the line ends
    visit.page.evaluate("void 0")
    visit.page.focus("#day")
    visit.page.keyboard.press("End")
    assert "none yet" in visit.text("#growth .over span"), "after the end nothing stands"
    names = visit.page.locator("#growth svg text").all_text_contents()
    assert {"as recorded", "changed"} <= set(names)
    rows = dict(
        zip(("came", "went"), visit.page.locator("#way tr.total").all_inner_texts(), strict=True)
    )
    assert rows["came"] == rows["went"], "each pound that came went somewhere"


def test_a_dark_scheme_and_forced_colours_reach_the_pictures(visit: Visit) -> None:
    visit.open("?change=rain+november+%3D+11+inch")
    ink = "getComputedStyle(document.querySelector('#growth .line')).stroke"
    paper = "getComputedStyle(document.body).backgroundColor"
    light = visit.page.evaluate(ink), visit.page.evaluate(paper)
    visit.page.emulate_media(color_scheme="dark")
    dark = visit.page.evaluate(ink), visit.page.evaluate(paper)
    assert light[0] != dark[0] and light[1] != dark[1]
    visit.page.emulate_media(media="print", color_scheme="dark")
    assert visit.page.evaluate(paper) == "rgb(255, 255, 255)", "paper is white"
    visit.page.emulate_media(media="screen", color_scheme="light", forced_colors="active")
    assert visit.page.evaluate(ink) not in (light[0], dark[0])


def test_paper_gets_the_question_in_words(visit: Visit) -> None:
    visit.open(BUSY)
    visit.page.emulate_media(media="print")
    assert not visit.page.locator("#asked").is_visible()
    assert visit.page.locator("#in-words").bounding_box()["height"] > 10
    assert "an invented place" in visit.text("#in-words")
    visit.page.emulate_media(media="screen", reduced_motion="reduce")
    assert (
        visit.page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    )


def test_a_server_that_has_gone_is_said(visit: Visit) -> None:
    visit.open("?year=2015")
    before = visit.text("#answer")
    visit.page.evaluate("void (window.fetch = () => Promise.reject(new TypeError('refused')))")
    slide(visit, "sow", 1)
    visit.page.wait_for_selector("#problems .problem")
    assert "Start it again with: fallsown page" in visit.text("#problems")
    assert visit.text("#answer") == before
