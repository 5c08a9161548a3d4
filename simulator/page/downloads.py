"""What is taken away from the page: the table, a picture, the sheet, and the same as a command."""

from __future__ import annotations

import shlex
import tempfile
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator import __version__
from simulator.answers.season.panels import PINNED, RECORDED
from simulator.answers.sheet import files
from simulator.answers.sheet import layout as sheets
from simulator.answers.sheet.questions import defaults, make_sheet
from simulator.answers.sheet.questions.request import SheetRequest
from simulator.page import own_prices
from simulator.page.answers import Answered, asked_in_words, chance, notes, said_cautions
from simulator.page.bench import lines
from simulator.page.bench.headline import headline, near
from simulator.page.costs import cost, standings
from simulator.page.growing import Changes, weather
from simulator.page.pictures import (
    Columns,
    at_the_ends,
    chance_picture,
    season_picture,
    specification,
)
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.page.rows import chance_rows, days_rows, growth_rows, highest, nice, tops
from simulator.page.sown import Sown
from simulator.parameters.cereals import cereal
from simulator.parameters.fertilizers import fertilizer
from simulator.problems import fault
from simulator.season.compare import compare
from simulator.season.one_season import run_season
from simulator.show.charts import DOTS_PER_POINT, legible
from simulator.show.drawing import draw
from simulator.show.output import ROW_VARIABLES, Answer, csv_text, grid_rows
from simulator.show.wording import dates_in
from simulator.weather.samples import samples

if TYPE_CHECKING:
    import xarray as xr

PICTURES = ("season", "chance")
PRICE_FILE = "my-prices.toml"
LINE = 62  # letters of a title's line
IN_SEASON = (
    "Lines: the mean of the falls, or the one fall; dark band: 8 of 10 falls; thin lines: single "
    "falls; bars at the end: in a field like these."
)
IN_CHANCE = "Thick line: in a field like these; thin: over the falls, the weather alone."


def command(found: Answered) -> str:
    """Return the command line that asks the same."""
    asked, plan = found.asked, found.asked.plan
    words = ["fallsown", "season" if asked.year is not None else "compare"]
    if asked.year is not None:
        words += ["--year", str(asked.year)]
    elif asked.changes:
        words[1] = "whatif"
    words += _weather(found)
    words += [
        *_field(plan),
        "--sow",
        plan.sow,
        "--seeding",
        plan.seeding,
        "--nitrogen",
        plan.nitrogen,
        "--nitrogen-timing",
        plan.nitrogen_timing,
        "--end",
        plan.end,
    ]
    for change in asked.changes:
        words += ["--change", change.text]
    return shlex.join([*words, "--units", asked.system])


def command_of(question: str, asked: Question, place: PlaceWeather, **others: str) -> str:
    """Return a command line that asks about a plan.

    Parameters
    ----------
    question : str
        Name of the command.
    asked : Question
    place : PlaceWeather
    **others
        Options that go before the plan's own, or beside them.
    """
    found, plan = Answered(asked, place, {}), asked.plan
    given = {
        name: getattr(plan, name)
        for name in ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
    }
    words = ["fallsown", question, *_weather(found), *_field(plan)]
    for name, text in (given | others).items():
        words += [f"--{name.replace('_', '-')}", text]
    for change in asked.changes:
        words += ["--change", change.text]
    return shlex.join([*words, "--units", asked.system])


def cost_command(found: Answered) -> str:
    """Return the command line that tells the same cost; none where the weather is changed.

    The pinned plan is in it where it is in the same field: a budget takes one.
    """
    asked, plan = found.asked, found.asked.plan
    if asked.changes:
        return ""
    words = ["fallsown", "budget", *_weather(found), *_field(plan)]
    for one in (plan, asked.pinned):
        if one is not None and _field(one) == _field(plan):
            words += [
                "--plan",
                f"sow={one.sow}; seeding={one.seeding}; nitrogen={one.nitrogen}; "
                f"nitrogen-timing={one.nitrogen_timing}; end={one.end}",
            ]
    if plan.soil_nitrate:  # the dates that a budget tries by itself may lie before the test
        words += ["--sow", plan.sow]
    words += [
        "--ended-by",
        ",".join(asked.endings) or "none",
        "--target",
        asked.target_text,
        "--years",
        "all" if asked.year is None else str(asked.year),
    ]
    if own_prices.differ(asked.prices):
        words += ["--prices", PRICE_FILE]
    return shlex.join([*words, "--units", asked.system])


def _field(plan: Sown) -> list[str]:
    words = [
        "--cereal",
        plan.cereal,
        "--soil",
        plan.soil,
        "--previous-crop",
        plan.previous_crop,
        "--fertilizer",
        plan.fertilizer,
    ]
    if plan.soil_nitrate:
        words += ["--soil-nitrate", plan.soil_nitrate]
    if plan.organic_matter:
        words += ["--organic-matter", plan.organic_matter]
    return words


def _weather(found: Answered) -> list[str]:
    asked = found.asked
    if asked.place in samples():
        return ["--weather", asked.place]
    return [
        "--weather",
        asked.file or "FILE",
        "--latitude",
        f"{float(found.place.about['latitude']):g}",
    ]


def table(found: Answered) -> str:
    """Return the seasons as CSV, in SI: a row a day of one fall, or a row a fall of all.

    What the plans cost stands above the rows, by the hectare.
    """
    rows: list[dict[str, Any]] = []
    data = None
    for name, grown in found.grown.items():
        changes = () if name == RECORDED else found.asked.changes
        data = _seasons(found, grown.plan, changes)
        called = "pinned plan" if name == PINNED else "this plan"
        rows += [{"plan": called, **row} for row in grid_rows(data)]
    assert data is not None
    return csv_text(
        Answer(
            command="page",
            version=__version__,
            line=command(found),
            inputs={
                "site": data.attrs.get("site"),
                "source": data.attrs.get("source"),
                "invented": data.attrs.get("invented"),
                "changes": "; ".join(change.text for change in found.asked.changes),
                **_costs(found),
            },
            data=data,
            rows=rows,
            cautions=said_cautions(found),
            notes=notes(found),
        )
    )


def _costs(found: Answered) -> dict[str, str]:
    sign, costs = found.asked.prices.currency, {}
    for name, one in standings(found, "si").items():
        items = "; ".join(f"{item.name} {item.cost}" for item in one.budget.items)
        called = "pinned_plan" if name == PINNED else "this_plan"
        costs[f"cost_of_{called}"] = f"{one.budget.total} {sign}/ha ({items})"
    return {**costs, "prices": str(cost(found)["caution"])}


def _seasons(found: Answered, plan: Sown, changes: Changes) -> xr.Dataset:
    record = weather(found.place, changes)
    ground, crop, _ = plan.field()
    if found.asked.year is not None:
        one = run_season(
            record, plan.plan(), soil=ground, previous_crop=crop, year=found.asked.year
        )
        return one.drop_dims("layer")
    grid = compare(
        record,
        cereal=plan.cereal,
        fertilizer=plan.fertilizer,
        soil=ground,
        previous_crop=crop,
        sow=[plan.sow],
        seeding=[plan.seeding],
        nitrogen=[plan.nitrogen],
        nitrogen_timing=[plan.nitrogen_timing],
        end=[plan.end],
        years=found.place.years,
    )
    return grid[list(ROW_VARIABLES)].assign_attrs(grid.attrs)


def picture(found: Answered, which: str) -> dict[str, Any]:
    """Return a picture with its data, its title the answer, as Vega-Lite has it."""
    if which not in PICTURES:
        raise fault(
            "picture", f"There is no picture '{which[:40]}'.", f"Ask for {' or '.join(PICTURES)}."
        )
    rows = {**growth_rows(found), **days_rows(found), **chance_rows(found)}
    rows["ends"] = lines.ends(found)
    tops_of = fitted(tops(found.place, found.system), highest(rows))
    rows["ends"] = at_the_ends(rows["ends"], tops_of["biomass"])
    if which == "season":
        rows["falls"] = lines.fall_rows(found)
        title, below, make = headline(found), [*near(found), IN_SEASON], season_picture
    else:
        title, below, make = chance(found)["headline"], [IN_CHANCE], chance_picture
    return specification(
        make(found.system, tops_of, found.labels),
        {name: _rowed(columns) for name, columns in rows.items()},
        textwrap.wrap(title, LINE),
        textwrap.wrap(" ".join([asked_in_words(found), *below]), LINE + 24),
    )


def fitted(ends: dict[str, float], seen: dict[str, float]) -> dict[str, float]:
    """Widen axes that an answer goes beyond."""
    wider = {
        name: nice(seen[name]) if seen[name] > end else end
        for name, end in ends.items()
        if name != "coldest"
    }
    return {**wider, "coldest": min(ends["coldest"], seen["coldest"])}


def _rowed(columns: Columns) -> list[dict[str, Any]]:
    names = list(columns)
    return [dict(zip(names, values, strict=True)) for values in zip(*columns.values(), strict=True)]


def drawn(spec: dict[str, Any], suffix: str) -> bytes:
    """Draw a picture as .svg or .png."""
    return draw(suffix, legible(spec), DOTS_PER_POINT)


def sheet(asked: Question, place: PlaceWeather, question: str, suffix: str) -> bytes:
    """Make the sheet of a question, about the plan that the page shows, as .html or .pdf."""
    if question == "whatif" and not asked.changes:
        raise fault(
            "sheet",
            "This sheet sets changed weather beside the weather as recorded, and "
            "nothing is changed.",
            "Change the weather first, or choose another question.",
        )
    plan = asked.plan
    mine = {
        "sow": [plan.sow],
        "nitrogen": [plan.nitrogen],
        "nitrogen_timing": [plan.nitrogen_timing],
        "end": [plan.end],
    }
    varied = {
        "whatif": ("nitrogen", "nitrogen_timing"),
        "sowing": ("sow", "nitrogen"),
        "nitrogen": ("nitrogen",),
        "termination": ("end",),
        "risk": ("sow",),
        "why": (),
    }[question]
    usual = defaults(question, asked.system)
    plans = {**mine, **{name: usual[name] for name in varied}, "seeding": [plan.seeding]}
    ground, crop, measured = plan.field(
        **{name: plans[name] for name in ("sow", "nitrogen", "nitrogen_timing")}
    )
    made = make_sheet(
        question,
        SheetRequest(
            record=place.record,
            field={
                "cereal": cereal(plan.cereal),
                "soil": ground,
                "previous_crop": crop,
                "fertilizer": fertilizer(plan.fertilizer),
            },
            plans=plans,
            years=list(place.years),
            system=asked.system,
            place=str(place.record.attrs["site"]),
            changes=[change.text for change in asked.changes],
            target=asked.target,
            year=asked.year,
            parameters=[dates_in(text) for text in measured],
            announce=lambda _: None,
        ),
    )
    if suffix == "html":
        return sheets.html(made).encode()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        files.write_sheet(made, path, paper="letter" if asked.system == "us" else "a4")
        return path.read_bytes()
