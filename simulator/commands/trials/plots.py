"""``fallsown plots``: what a trial's plots say, and how ordinary its years were."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.plan_options import gathered
from simulator.problems import InputError, Parameter, Problem, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.plots import Found
    from simulator.answers.plots.calculate import Worth
    from simulator.show.answer import Reply
    from simulator.show.output import Answer
    from simulator.trials.analysis.layout import Layout
    from simulator.trials.observations import Plots
    from simulator.units import System

WHOLE_NAMES = {"sow": "sown", "sowing": "sown", "seeding rate": "seeding"}


@click.command("plots", short_help="Say what the plots of a trial show: differences, responses.")
@click.option(
    "--plots",
    required=True,
    metavar="FILE",
    help="The plot table: site, sown, sampled, biomass (lb/acre), block, and what was varied.",
)
@options.list_option(
    "--treatment", help="Columns of your own that are treatments, such as tillage or variety."
)
@click.option(
    "--whole-plot",
    metavar="TREATMENT",
    help="A treatment whose plots lie together in each block, such as sown, where no column "
    "whole_plot says so.",
)
@click.option(
    "--only",
    multiple=True,
    metavar="COLUMN=VALUES",
    help="Keep rows with these values alone, such as 'fertilizer=mineral' or 'site=headland'.",
)
@click.option(
    "--seasons",
    type=click.Choice(["random", "fixed"]),
    help="Whether years stand for others like them, or for themselves alone.  [default: random "
    "from three site-years on]",
)
@click.option(
    "--method",
    type=click.Choice(["strata", "mixed"]),
    default="strata",
    show_default=True,
    help="The strata of the layout by least squares, or a mixed model by REML.",
)
@click.option(
    "--value",
    metavar="PRICE",
    help="What biomass is worth, such as '40 $/ton', for the rate of nitrogen that pays.",
)
@click.option("--prices", "price_file", metavar="FILE", help="Your prices, a TOML file.")
@click.option(
    "--weather",
    "weather",
    multiple=True,
    metavar="SITE=FILE",
    help="Weather of a site, to say how ordinary its years were; given again for each.",
)
@click.option(
    "--soil", default="sandy loam", show_default=True, help="Soil texture, for the weather's part."
)
@click.option(
    "--previous-crop",
    default="cotton",
    show_default=True,
    help="Crop before, for the weather's part.",
)
@click.option(
    "--date-format",
    metavar="FORM",
    help="How dates are written in the plot table, such as DD/MM/YYYY.",
)
@click.option(
    "--units-of-file",
    type=click.Choice(["us", "si"]),
    help="Units of weather files whose header has none.",
)
@CHART
@options.with_options(options.OUTPUT, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Say what the plots of a trial show, by themselves and beside the weather.

    Means with standard errors, which treatments may be averaged over, the response to nitrogen and
    the rate that pays, and which year was odd. Nothing is simulated but what --weather asks: how
    ordinary the years were among all falls of the record, and what nitrogen would bring in those.

    The plot table is that of 'fallsown agree', a row a plot, with a column block and, in split
    plots, whole_plot; other columns are treatments of your own.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    plots: str,
    price_file: str | None,
    value: str | None,
    weather: Sequence[str],
    soil: str,
    previous_crop: str,
    units_of_file: str | None,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    seasons: Any,
    method: Any,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from dataclasses import replace

    from simulator.answers.plots import find
    from simulator.show.output import check_destination

    files = [plots, price_file, *(text.partition("=")[2].strip() for text in weather)]
    check_destination(out, inputs=files, called="one of the files read")
    check_chart(chart, files)
    table, layout = _laid_out(plots, **asked)
    worth = _worth(table, price_file, value)
    records = _records(table, weather, units_of_file)
    found = find(table, layout, worth, seasons=seasons, method=method)
    if records:
        field = {"soil": soil, "previous_crop": previous_crop}
        found = replace(found, ordinary=_ordinary(found, records, field))
    return _reply(found, records, "us" if (units or table.system) == "us" else "si")


def _laid_out(
    plots: str,
    *,
    treatment: Sequence[str],
    whole_plot: str | None,
    only: Sequence[str],
    date_format: str | None,
) -> tuple[Plots, Layout]:
    """Read the table and find how the trial was laid out."""
    from simulator.trials.analysis.layout import lay_out
    from simulator.trials.observations import read_plots

    table = read_plots(plots, date_format=date_format, with_own=True)
    layout = lay_out(
        table,
        treatments=[part.strip() for text in treatment for part in text.split(",")],
        whole_plot=None if whole_plot is None else WHOLE_NAMES.get(whole_plot, whole_plot),
        only=[_only(text) for text in only],
    )
    return table, layout


def _reply(found: Found, records: dict[str, xr.Dataset], system: System) -> Reply:
    from simulator.answers.plots import table, words
    from simulator.commands.shared.reporting import spell_parameters
    from simulator.show.answer import Reply

    def draw() -> Any:
        from simulator.answers.plots import chart

        return chart.chart(found, system)

    return Reply(
        answer=spell_parameters(_answer(found, records, system)),
        draw=draw,
        lay_heading=lambda: words.heading(found),
        lay_tables=lambda: table.tables(found, system),
    )


def _only(text: str) -> tuple[str, list[str]]:
    column, _, values = text.partition("=")
    if not column.strip() or not values.strip():
        raise fault(
            Parameter("only"), f"'{text}' cannot be read.", "Write COLUMN=VALUE, or several with |."
        )
    return column.strip(), [one.strip() for one in values.split("|")]


def _worth(table: Plots, price_file: str | None, value: str | None) -> Worth:
    """Read the prices, as the budget does."""
    from simulator.answers.plots.calculate import worth_of
    from simulator.parameters.prices import default_prices, read_prices, value_of_biomass

    prices = default_prices() if price_file is None else read_prices(price_file)
    worth = None if value is None else value_of_biomass(value, prices.currency).by("kg")
    nitrogen = {kind: price.by("kg") for kind, price in prices.nitrogen.items()}
    origin = f"the prices of {prices.label}" if price_file else "our invented prices of nitrogen"
    return worth_of(table, nitrogen, worth, prices.currency, origin)


def _records(
    table: Plots, weather: Sequence[str], units_of_file: str | None
) -> dict[str, xr.Dataset]:
    """Read the weather of the sites that have some, and give it their latitude."""
    from simulator.commands.trials.trial_options import weather_by_site

    problems: list[Problem] = []
    given = weather_options.records_given()
    records = (
        dict(given) if given is not None else weather_by_site(weather, units_of_file, problems)
    )
    placed = {}
    for site, record in records.items():
        if site not in table.sites:
            problems.append(
                Problem(
                    Parameter("weather", f"{site}=..."),
                    f"The plot table has no site '{site}'.",
                    f"Its sites are {', '.join(table.sites)}.",
                )
            )
            continue
        one = gathered(problems, partial(_placed, table, site, record))
        if one is not None:
            placed[site] = one
    if problems:
        raise InputError(problems)
    return placed


def _placed(table: Plots, site: str, record: xr.Dataset) -> xr.Dataset:
    import numpy as np

    from simulator.weather.files.record_check import checked

    record = checked(record)
    latitude = table.latitude(site, {site: record})
    if not np.isfinite(latitude):
        raise fault(
            table.file,
            f"Neither the plot table nor the weather says the latitude of '{site}'.",
            "Add a column latitude, in degrees north.",
        )
    return record.assign_attrs(latitude=latitude)


def _ordinary(found: Found, records: dict[str, xr.Dataset], field: dict[str, Any]) -> list[Any]:
    from simulator.answers.plots.ordinary import ordinary

    sites = {site for site, _ in found.layout.envs}
    made = []
    for site, record in records.items():
        if site in sites:
            cereal = str(found.plots.table["cereal"][found.plots.table["site"] == site].mode()[0])
            made.append(ordinary(found.analysis, found.plots, site, record, cereal=cereal, **field))
    return made


def _answer(found: Found, records: dict[str, xr.Dataset], system: System) -> Answer:
    """Word the answer."""
    from simulator.answers.plots import data, words
    from simulator.show import cautions
    from simulator.show.output import Answer, grid_rows, plain

    made = data.dataset(found)
    nitrogen = bool(found.curves)
    kept = list(found.layout.notes)
    kept += [str(doubt) for doubt in found.plots.doubts]
    said = [
        cautions.invented(str(one.attrs["site"]))
        for one in records.values()
        if one.attrs.get("invented") == "yes"
    ]
    if nitrogen and found.worth.ratio is not None:
        said.append(f"Prices are yours to check: {found.worth.origin}.")
    if records:
        said.append(cautions.MODEL)
    if nitrogen:
        said.append(cautions.NITROGEN)
    rows = grid_rows(made)
    for row in rows:
        for name in [name for name in row if name not in made.variables]:
            del row[name]
    return Answer(
        command="plots",
        version=__version__,
        line=options.command_line(),
        inputs={
            "plots": found.plots.file,
            "treatments": [one.name for one in found.layout.factors],
            "sites": sorted({site for site, _ in found.layout.envs}),
            "years": sorted({plain(year) for _, year in found.layout.envs}),
            "weather": {site: str(one.attrs["source"]) for site, one in records.items()},
            "seasons": found.analysis.seasons,
            "method": found.method,
        },
        data=made,
        rows=rows,
        notes=kept + [note for note in found.plots.notes if _of_use(note)],
        cautions=said,
        sentences=words.sentences(found, system),
        more=data.more_json(found),
    )


def _of_use(note: str) -> bool:
    """Say whether a note of the reader concerns what plots say by themselves."""
    if "are replicates of" in note:
        return False
    return not note.startswith(("No ", "Fall nitrogen is", "Spring nitrogen in", "The soil's"))
