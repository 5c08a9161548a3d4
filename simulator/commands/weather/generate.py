"""``fallsown generate``: weather that could have been."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, weather_options
from simulator.commands.weather.invented_places import make_places, refuse_with_places
from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.output import Answer
    from simulator.units import System
    from simulator.weather.generator.against_recorded import Held
    from simulator.weather.generator.generated import Made

OUT = click.option(
    "--out",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the weather to FILE.csv or FILE.nc, which every command takes as "
    "--weather; of --places to FILE.nc.",
)


@click.command("generate", short_help="Make falls of weather like those of a record.")
@click.option(
    "--years",
    default=30,
    show_default=True,
    metavar="COUNT",
    type=int,
    help="Falls to make, 1 to 450.",
)
@click.option(
    "--seed",
    default=1,
    show_default=True,
    metavar="NUMBER",
    type=int,
    help="The same seed gives the same weather.",
)
@click.option(
    "--method",
    type=click.Choice(["fitted", "resampled"]),
    default="fitted",
    show_default=True,
    help="fitted: days of a generator fitted to the weather. "
    "resampled: its real seasons drawn anew, the one to take for risk.",
)
@click.option(
    "--blocks",
    default="season",
    show_default=True,
    metavar="KIND",
    help="Of resampled: season, month, or weeks such as '3 weeks', joined where the "
    "weather matches.",
)
@click.option(
    "--condition",
    "conditions",
    multiple=True,
    metavar="TEXT",
    help="Rain that every season is to have: 'rain november = 11 inch'; may be given again.",
)
@click.option(
    "--weights",
    metavar="TEXT",
    help="Chance of each kind of fall: 'wet 50, normal "
    "30, dry 20', or 'wet 100'.  [kinds: fall rain]",
)
@click.option(
    "--kinds",
    metavar="HOW|FILE",
    help="Sort falls for --weights by 'fall rain', 'fall "
    "temperature' or 'fall' (both); of resampled also by a file: your list (year,kind) "
    "or the Oceanic Nino Index.",
)
@click.option(
    "--kinds-season",
    default="OND",
    show_default=True,
    metavar="MONTHS",
    help="Three months of the Oceanic Nino Index.",
)
@click.option(
    "--first-year",
    type=int,
    metavar="YEAR",
    help="Fall of the first season.  [default: 2001, or earlier]",
)
@click.option(
    "--wet-day",
    default="0.2 mm",
    show_default=True,
    metavar="RAIN",
    help="Rain from which on a day counts as wet.",
)
@click.option(
    "--smooth",
    "smoothed",
    is_flag=True,
    help="Draw the means of months towards a smooth year, for a short record whose months are "
    "partly luck; the answer says what that moved. Without it each month keeps its means.",
)
@click.option(
    "--report",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Hold generated against recorded weather, every statistic by month: a page "
    "FILE.html that needs no network.",
)
@click.option(
    "--places",
    type=int,
    metavar="COUNT",
    help="Invent so many places around the "
    "fitted one, their climates shifted smoothly, all in one file.",
)
@options.list_option("--soils", help="Soils for --places, given in turn: 'sandy loam,loam'.")
@options.with_options(options.WEATHER, options.UNITS, options.JSON, OUT, options.DEBUG_OPTION)
def command(
    *,
    years: int,
    seed: int,
    method: str,
    blocks: str,
    conditions: tuple[str, ...],
    weights: str | None,
    kinds: str | None,
    kinds_season: str,
    first_year: int | None,
    wet_day: str,
    smoothed: bool,
    report: Path | None,
    places: int | None,
    soils: tuple[str, ...],
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> None:
    """Make falls of weather like those of a record, as many as wanted.

    A generator is fitted to the record and draws its days, or whole seasons of the record are
    drawn anew. What is made reads back as --weather.
    """
    from simulator.units import parse

    _check_files(out, report, [asked["weather"], kinds], many_places=bool(places))
    threshold = parse(wet_day, "mm", name=Parameter("wet_day"))
    how = {
        "blocks": blocks,
        "conditions": conditions,
        "weights": weights,
        "kinds": kinds,
        "smoothed": smoothed,
    }
    if places is not None:
        refuse_with_places(method, report, out, how)
        record = weather_options.load_weather(**asked)
        answer, text = make_places(
            record, places, years, seed, first_year, threshold, soils, out, units, smoothed
        )
        _print(answer, text, as_json)
        options.announce(f"Written: {out}, {places:,} places.")
        return
    if soils:
        raise fault(
            Parameter("soils"), "Only invented places are given soils.", "Add --places COUNT."
        )
    record = weather_options.load_weather(**asked, need_latitude=False)
    _make_record(
        record,
        years,
        seed,
        method,
        first_year,
        threshold,
        how,
        kinds_season,
        report,
        out,
        units,
        as_json,
    )


def _check_files(
    out: Path | None, report: Path | None, read: list[str | None], *, many_places: bool
) -> None:
    """Refuse files that could not be written, or that are read, before anything is made."""
    from simulator.show.output import check_destination

    called = "one of the files read"
    check_destination(
        out, inputs=read, suffixes=(".nc",) if many_places else (".csv", ".nc"), called=called
    )
    check_destination(
        report, inputs=read, option=Parameter("report"), suffixes=(".html",), called=called
    )


def _make_record(
    record: xr.Dataset,
    years: int,
    seed: int,
    method: str,
    first_year: int | None,
    wet_day: float,
    how: dict[str, Any],
    kinds_season: str,
    report: Path | None,
    out: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    from simulator.answers.generate import table, words
    from simulator.answers.generate.files import write_record
    from simulator.show.answer import answer_text
    from simulator.weather.generator.generated import make_weather

    made = make_weather(
        record,
        years,
        seed,
        method,
        first_year=first_year,
        wet_day=wet_day,
        kinds_season=kinds_season,
        **how,
    )
    system = options.shown_units(units, record)
    held = None
    fit = [] if made.fitted is None else words.fit_sentences(made.fitted, system)
    if report is not None:
        held = _hold(record, made, how["blocks"], wet_day)
    sentences = [*(words.held_sentences(held) if held else []), *fit]
    answer = _answer(record, made, held, sentences, method)
    answer.inputs.update(
        years=years,
        seed=seed,
        method=method,
        wet_day_mm=wet_day,
        **{
            name: list(value) if isinstance(value, tuple) else value
            for name, value in how.items()
            if value
        },
    )
    if report is not None and held is not None:
        _write_report(report, record, held, method, system, [*fit, *made.notes])
    if out is not None:
        write_record(made.record, out, answer.line)
    tables = [table.month_table(made, record, wet_day, system)]
    tables += [table.held_table(held, system)] if held else []
    _print(answer, answer_text(answer, words.heading(made, record, seed), tables), as_json)
    if out is not None:
        options.announce(f"Written: {out}, {made.record.sizes['time']:,} days.")


def _write_report(
    report: Path,
    record: xr.Dataset,
    held: list[Held],
    method: str,
    system: System,
    notes: list[str],
) -> None:
    """Write the page that holds generated against recorded weather."""
    from simulator.answers.generate.report import write_page

    own = record["time"].values.astype("datetime64[D]")
    invented = " (an invented place)" if record.attrs.get("invented") == "yes" else ""
    write_page(
        report,
        held,
        system,
        title=f"Method {method}, record of "
        f"{record.attrs.get('site', '')}{invented}, {own[0]} to {own[-1]}.",
        notes=notes,
    )
    options.announce(f"Written: {report}.")


def _hold(record: xr.Dataset, made: Made, blocks: str, wet_day: float) -> list[Held]:
    from simulator.weather.generator.against_recorded import (
        fitted_maker,
        held_against,
        resampled_maker,
    )

    maker = (
        resampled_maker(record, blocks)
        if made.fitted is None
        else fitted_maker(made.fitted, record)
    )
    return held_against(record, maker, wet_day)


def _answer(
    record: xr.Dataset, made: Made, held: list[Held] | None, sentences: list[str], method: str
) -> Answer:
    from simulator.answers.generate import data as generate_data
    from simulator.answers.generate import words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.cautions import cautions

    notes = list(made.notes)
    if held and made.notes and made.record.attrs["source"].count("conditioned"):
        notes.append("The statistics are those of the method without conditions.")
    more: dict[str, Any] = {}
    if made.fitted is not None:
        more["fit"] = generate_data.fit_json(made.fitted)
    if held:
        more["statistics"] = generate_data.held_rows(held)
    if made.donors is not None:
        more["lent_by"] = made.donors.tolist()
    about = cautions(made.record.attrs)
    return make_answer(
        "generate",
        generate_data.dataset(made.record),
        left_out=[],
        notes=notes,
        sentences=sentences,
        cautions=[*about, *([words.FOR_RISK] if method == "fitted" else [])],
        **more,
    )


def _print(answer: Answer, text: str, as_json: bool) -> None:
    from simulator.show.output import json_text

    click.echo(json_text(answer) if as_json else text)
