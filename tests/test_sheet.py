"""The page for a grower: what stands on it, that it is safe to open, that it fits a page."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

import simulator
from simulator.answers.shared.field_ranges import chance_in_fields
from simulator.answers.sheet.layout import Sheet, beside_bare, html, text, whole
from simulator.answers.sheet.pdf import MARGIN, _height, _room_and_story, lacking, pdf
from simulator.answers.sheet.questions import QUESTIONS, USUAL, defaults, make_sheet
from simulator.answers.sheet.questions.request import SheetRequest
from simulator.commands import fallsown
from simulator.season import cases
from simulator.season.compare import compare

FEW = "2013:2024"
HOSTILE = '<img src=x onerror=alert(1)> & "O\'Hare" {{ 7*7 }} </title>'
PAPERS = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["sheet", *arguments], catch_exceptions=False)


def answered(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def asked(question: str, system: str = "us", **more: object) -> SheetRequest:
    from simulator.parameters import cereals, fertilizers, soils

    field = {
        "cereal": cereals.cereal("rye"),
        "soil": soils.soil("sandy loam"),
        "previous_crop": soils.previous_crop("cotton"),
        "fertilizer": fertilizers.fertilizer("ammonium nitrate"),
    }
    rates = {name: list(texts) for name, texts in defaults(question, system).items()}
    rates["nitrogen"] = [
        f"{one} {texts.split()[-1]}"
        for texts in rates["nitrogen"]
        for one in texts.split()[0].split(",")
    ]
    about = {
        "record": simulator.sample_weather(),
        "field": field,
        "years": list(range(2013, 2025)),
        "plans": {**rates, "seeding": [USUAL[system]["seeding"]]},
        "system": system,
        "place": "Tallow Bend",
        "changes": [USUAL[system]["change"]],
        "target": 4483.0,
        "year": None,
        "parameters": [],
        "announce": print,
        **more,
    }
    return SheetRequest(**about)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def sheets() -> dict[str, Sheet]:
    return {question: make_sheet(question, asked(question)) for question in QUESTIONS}


class Page(HTMLParser):
    """Gathers a page's tags, attributes and text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] != "style":
            self.words.append(data)


# --- what stands on it ---


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_sheet_has_all_its_parts(sheets: dict[str, Sheet], question: str) -> None:
    sheet = sheets[question]
    page = Page(html(sheet))
    told = " ".join(" ".join(page.words).split())
    for part in (
        sheet.question,
        sheet.place,
        *sheet.answer,
        sheet.chart_title,
        sheet.table_note,
        beside_bare(sheet),
        *sheet.assumptions,
        *sheet.cautions,
        sheet.made,
    ):
        assert " ".join(part.split()) in told
    for row in sheet.rows:
        assert len(row) == len(sheet.columns)
        assert all(cell in told for cell in row)
    assert "svg" in page.tags and "table" in page.tags
    assert len(sheet.answer) == 2
    assert sheet.question.endswith("?")
    assert all(one.endswith(".") for one in sheet.answer)
    assert "(invented place and weather)" in told
    assert f"fallsown {simulator.__version__}" in told
    assert "not a recommendation" in told
    assert "nan" not in told.lower().split()


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_page_runs_nothing_and_asks_for_nothing(sheets: dict[str, Sheet], question: str) -> None:
    page = html(sheets[question])
    found = Page(page)
    assert not {"script", "link", "iframe", "img", "object", "embed", "base"} & set(found.tags)
    assert "default-src 'none'" in page
    for name, value in found.attributes:
        assert not name.startswith("on")
        assert name not in ("src", "href", "xlink:href", "action")
        if name not in ("xmlns", "xmlns:xlink"):
            assert "http" not in value
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("question", QUESTIONS)
def test_a_pdf_is_one_page_of_the_paper_and_can_be_searched(
    sheets: dict[str, Sheet], question: str, paper: str
) -> None:
    sheet = sheets[question]
    pages = PdfReader(BytesIO(pdf(sheet, paper))).pages
    assert len(pages) == 1
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == pytest.approx(
        PAPERS[paper], abs=0.01
    )
    told = "".join(pages[0].extract_text().split())
    for part in (sheet.question, *sheet.answer, beside_bare(sheet), *sheet.cautions, sheet.made):
        assert "".join(part.split()) in told


def test_a_pdf_fills_its_page(sheets: dict[str, Sheet]) -> None:
    for sheet in sheets.values():
        inner = (PAPERS["letter"][0] - 2 * MARGIN, PAPERS["letter"][1] - 2 * MARGIN)
        _, story = _room_and_story(sheet, (640.0, 300.0), inner)
        assert 0.95 * inner[1] <= _height(story, inner) <= inner[1]


def test_why_asks_after_biomass_and_marks_thousands(sheets: dict[str, Sheet]) -> None:
    sheet = sheets["why"]
    assert re.match(
        r"Why did rye make [\d,]+ lb/ac (less|more) biomass in the fall of", sheet.question
    )
    titles = [whole(column.title) for column in sheet.columns]
    assert titles[:2] == ["month", "biomass by the month"]
    assert {"biomass from nitrogen", "nitrogen lost"} < set(titles)
    assert not any(re.search(r"\d{4}", cell) for row in sheet.rows for cell in row)


def test_a_sheet_that_is_too_long_is_made_smaller(sheets: dict[str, Sheet]) -> None:
    from dataclasses import replace

    long = replace(sheets["whatif"], assumptions=["A long assumption, told in full. " * 4] * 16)
    assert len(PdfReader(BytesIO(pdf(long, "letter"))).pages) == 1


# --- numbers ---


def test_the_sheet_says_what_the_grid_says(sheets: dict[str, Sheet]) -> None:
    grid = compare(
        simulator.sample_weather(),
        sow="10-20,12-08",
        nitrogen="0,60 lb/acre",
        years=range(2013, 2025),
    ).squeeze(drop=True)
    early, late = (
        grid["biomass_kg_ha"].sel(sow=sow).isel(nitrogen=1).mean() / 1.120851
        for sow in ("10-20", "12-08")
    )
    told = sheets["sowing"].answer[0]
    assert f"rye makes {round(float(early), -1):,.0f} lb/ac on Apr 15" in told
    each = abs(float(early - late)) / 49
    assert f"about {each:.0f} lb/ac {'less' if late < early else 'more'} for each day" in told


def test_the_chance_is_a_count_of_falls(sheets: dict[str, Sheet]) -> None:
    sheet = make_sheet("risk", asked("risk", target=3000.0))
    grid = compare(
        simulator.sample_weather(),
        sow="10-20,11-05,11-20,12-08",
        nitrogen="30 lb/acre",
        years=range(2013, 2025),
    ).squeeze(drop=True)
    for row, sow in zip(sheet.rows, grid["sow"].values, strict=True):
        reached = int((grid["biomass_kg_ha"].sel(sow=sow) >= 3000.0).sum())
        assert row[2].startswith(f"{reached} of 12 (")
        chance = chance_in_fields(grid["biomass_kg_ha"].sel(sow=sow).values, 3000.0)
        assert row[1] == f"{100 * chance:.0f} in 100"
    assert f"with a chance of {sheet.rows[0][1]}, weather and field" in sheet.answer[0]
    assert f"in {sheet.rows[0][2]} falls" in sheet.answer[1]
    assert sheet.rows[0][1] != sheets["risk"].rows[0][1]  # of a higher target


def test_sentences_follow_the_weather(sheets: dict[str, Sheet]) -> None:
    dry = make_sheet("whatif", asked("whatif", changes=["rain november = 0.2 inch"]))
    assert dry.answer != sheets["whatif"].answer
    assert "0.2 in of rain in each November" in dry.question
    same = make_sheet("whatif", asked("whatif", changes=["rain november * 1"]))
    assert "about as before" in same.answer[0]
    assert "leaches as before" in same.answer[0]


def test_held_nitrogen_is_told_apart_from_nitrogen_at_sowing(sheets: dict[str, Sheet]) -> None:
    rows = {(row[0], row[1]): row for row in sheets["whatif"].rows}
    assert set(rows) == {
        (when, weather)
        for when in ("at sowing", "on Feb 15")
        for weather in ("as it was", "changed")
    }
    grid = sheets["whatif"].data
    lost = grid["nitrate_leached_kg_ha"].isel(seeding=0, sow=0, end=0).mean("year")
    by_60 = lost.sel(case=cases.CHANGED).isel(nitrogen=2) - lost.sel(case=cases.CHANGED).isel(
        nitrogen=0
    )
    for when, timing in (("at sowing", "sowing"), ("on Feb 15", "02-15")):
        told = max(float(by_60.sel(nitrogen_timing=timing)) / 1.120851, 0.0)
        assert rows[when, "changed"][-1] == f"{told:.0f}"


def test_a_sheet_says_what_a_stand_keeps_from_leaching(sheets: dict[str, Sheet]) -> None:
    plan = {"sow": "12-08", "seeding": "90 lb/acre", "nitrogen": "0 lb/acre", "end": "04-15"}
    grid = compare(simulator.sample_weather(), **plan, years=range(2013, 2025), bare=True)
    grid = grid.squeeze()
    bare, planted = (
        grid[f"{name}nitrate_leached_kg_ha"].values / 1.120851 for name in ("bare_", "")
    )
    drained = float(grid["bare_drainage_mm"].sum())
    low, high = np.percentile(bare - planted, [10, 90])
    told = sheets["sowing"].beside_bare
    assert told.startswith(
        f"From September to Apr 15 it leaches {bare.mean():.0f} lb/ac of nitrate nitrogen"
    )
    assert (
        f"; {(bare - planted).mean():.0f} lb/ac less sown Dec 8 ({low:.0f} to {high:.0f} less in 8 "
        f"of 10 falls; less in {(bare - planted > 0.05).sum()} of 12)"
    ) in told
    assert (
        f"What drains carries {100 * 1.120851 * bare.sum() / drained:.0f} mg/L of it below" in told
    )
    for question in ("whatif", "sowing", "nitrogen", "termination", "risk"):
        text = sheets[question].beside_bare
        assert re.search(r"\d (more|less) .*in 8 of 10 falls; less in \d+ of 12\)", text)
        assert "How far off this is in a field is not known" in text
    assert "nitrate nitrogen then, instead of" in sheets["whatif"].beside_bare
    assert re.search(
        r"carries \d+ mg/L of it below bare soil and, with 60 lb/ac of nitrogen, \d+ below the "
        r"stand given it at sowing and \d+ below the stand given it on Feb 15; the limit",
        sheets["whatif"].beside_bare,
    )
    assert "On May 15 it holds" in sheets["termination"].beside_bare


def test_bare_soil_reaches_no_stage() -> None:
    plans = {**asked("sowing").plans, "end": ["zadoks 37"]}
    sheet = make_sheet("sowing", asked("sowing", plans=plans, years=[2014, 2015]))
    assert sheet.beside_bare == ""
    assert "bare soil" not in text(sheet)


@pytest.mark.parametrize("question", ["nitrogen", "whatif"])
def test_a_sheet_holds_weather_and_field_together(sheets: dict[str, Sheet], question: str) -> None:
    sheet = sheets[question]
    titles = [column.title.replace("\n", " ") for column in sheet.columns]
    falls, field = titles.index("8 of 10 falls"), titles.index("8 of 10 in a field like these")
    for row in sheet.rows:
        (low, high), (lowest, highest) = (
            [int(end.replace(",", "")) for end in row[at].split(" to ")] for at in (falls, field)
        )
        assert lowest < low < high < highest
    said = " ".join([*sheet.answer, *sheet.assumptions])
    assert "In a field like these" in sheet.answer[0]
    assert "the model was off by 2,590 lb/ac" in said
    assert "What nitrogen brought was off by 1,150 lb/ac" in said
    assert "in a field like these" in sheet.chart_title
    assert max(map(len, text(sheet).splitlines())) <= 96


@pytest.mark.parametrize(("question", "at"), [("nitrogen", 0), ("whatif", 1)])
def test_what_the_error_drowns_cannot_be_told_on_a_sheet(question: str, at: int) -> None:
    from dataclasses import replace as put

    from simulator.parameters.model_error import RESPONSE, ModelErrors

    wide = ModelErrors(response=put(RESPONSE, rmse=9000.0))
    drowned = make_sheet(question, asked(question, errors=wide))
    assert "any cannot be told" in drowned.answer[at]
    sharp = ModelErrors(response=put(RESPONSE, rmse=1e-3))
    told = make_sheet(question, asked(question, errors=sharp))
    assert "any cannot be told" not in told.answer[at]


@pytest.mark.parametrize("question", QUESTIONS)
def test_units_are_the_readers(question: str) -> None:
    sheet = make_sheet(question, asked(question, "si"))
    told = text(sheet)
    assert "kg/ha" in told
    assert not re.search(r"\blb\b|°F|\bin of rain\b|pound", told)
    assert "30 kg/ha" in told or question in ("sowing", "whatif", "why", "nitrogen", "termination")


# --- the command ---


def test_the_default_question_is_a_drenched_november() -> None:
    told = " ".join(answered("--years", FEW).split())
    assert "With 11 in of rain in each November, what does nitrogen on rye bring?" in told
    assert "What this rests on:" in told and "Keep in mind:" in told


@pytest.mark.long
def test_hostile_names_stay_text(tmp_path: Path, open_data: Path) -> None:
    station = (open_data / "weather" / "belle_mina_2003_2012.csv").read_text()
    weather = tmp_path / "<b>bold<script>alert(2)&.csv"
    weather.write_text("# site: <script>alert(3)</script>\n# latitude: 34.7\n" + station)
    for question in ("sowing", "why"):
        out = tmp_path / f"{question}.html"
        answered(
            "--weather", str(weather), "--place", HOSTILE, "--question", question, "--out", str(out)
        )
        page = Page(out.read_text())
        assert not {"script", "img"} & set(page.tags)
        assert "<b>bold" not in out.read_text()
        told = "".join(page.words)
        assert HOSTILE in told
        assert "<script>alert(3)</script>" in told
        assert weather.name in told
    out = tmp_path / "sheet.pdf"
    answered("--weather", str(weather), "--place", HOSTILE, "--out", str(out))
    assert "onerror=alert(1)" in PdfReader(out).pages[0].extract_text()


def test_letters_that_the_pdf_lacks_are_told(tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    result = run("--place", "Łąka 北 Söhne", "--years", FEW, "--out", str(out))
    assert result.exit_code == 0
    assert "typeface lacks Ł ą 北" in result.stderr
    assert "?aka ? Söhne" in PdfReader(out).pages[0].extract_text()
    assert lacking("Söhne – 31°") == ""


def test_paper_follows_the_units(tmp_path: Path) -> None:
    for units, paper in (("us", "letter"), ("si", "a4")):
        out = tmp_path / f"{units}.pdf"
        answered("--question", "sowing", "--units", units, "--years", FEW, "--out", str(out))
        assert float(PdfReader(out).pages[0].mediabox.height) == pytest.approx(
            PAPERS[paper][1], abs=0.01
        )


def test_json_carries_question_answer_and_rows() -> None:
    told = json.loads(answered("--question", "risk", "--years", FEW, "--json"))
    assert told["command"] == "sheet"
    assert told["target_kg_ha"] == pytest.approx(4483.4, abs=0.1)
    assert len(told["sentences"]) == 3
    assert told["sentences"][2].startswith("Beside bare soil, without a stand")
    assert told["rows"][0]["bare_nitrate_leached_kg_ha"] > 0.0
    assert len(told["rows"]) == 12 * 4
    assert np.isfinite(told["rows"][0]["biomass_kg_ha"])


def test_the_chart_alone_can_be_had(tmp_path: Path) -> None:
    chart = tmp_path / "sheet.svg"
    answered("--question", "sowing", "--years", FEW, "--chart", str(chart))
    assert "sowing date" in chart.read_text()
    assert "Invented place" in chart.read_text()


def test_stations_are_answered(open_data: Path) -> None:
    for name in ("headland_winters_2005_2007", "prattville_winters_2003_2005_2006"):
        station = str(open_data / "weather" / f"{name}.csv")
        told = answered("--weather", station, "--latitude", "32", "--sow", "11-05")
        assert "lowest to highest" in told
        assert "invented" not in told


@pytest.mark.parametrize(
    ("arguments", "messages"),
    [
        (["--out", "sheet.txt"], ["does not end in .html or .pdf"]),
        (["--target", "4000", "--sow", "13-01"], ["--target", "--sow"]),
        (["--target", "-5 lb/acre"], ["out of range"]),
        (["--place", " "], ["--place"]),
        (["--place", "x" * 81], ["--place"]),
        (["--sow", "10-20,11-05"], ["takes one"]),
        (["--question", "why", "--nitrogen", "0,60 lb/acre"], ["takes one"]),
        (["--question", "nitrogen", "--nitrogen", "60 lb/acre"], ["nothing to be compared"]),
        (["--question", "termination", "--end", "zadoks 61"], ["compares dates"]),
        (["--question", "risk", "--years", "2020:2022"], ["at least 5 falls"]),
        (["--change", "rain smarch = 1 inch"], ["smarch"]),
    ],
)
def test_faults_end_with_a_message(
    arguments: list[str], messages: list[str], tmp_path: Path
) -> None:
    out = tmp_path / "sheet.html"
    result = run("--out", str(out), *arguments)
    assert result.exit_code == 2
    assert all(message in result.stderr for message in messages)
    assert not list(tmp_path.iterdir())
