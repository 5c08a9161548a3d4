"""``fallsown sensitivity``: which parameters an answer depends on."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings, sowings_moved
from simulator.problems import InputError, Parameter, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.sensitivity.calculate import Field, SiteSeasons, Varied
    from simulator.answers.sensitivity.indices import Indices
    from simulator.show.answer import Reply
    from simulator.show.output import Answer
    from simulator.units import System

MOST_PLACES = 50
_KINDS = {
    "cereal": ("cereal",),
    "soil": ("soil", "previous crop"),
    "both": ("cereal", "soil", "previous crop"),
}


@click.command("sensitivity", short_help="Say which parameters an answer depends on.")
@click.option(
    "--parameters-of",
    type=click.Choice(list(_KINDS)),
    default="both",
    show_default=True,
    help="Vary the cereal's, or the soil's and previous crop's.",
)
@options.list_option(
    "--only",
    help="Names of the parameters to vary.  [default: the 12 that move an "
    "outcome most when each alone goes to the ends of its range]",
)
@click.option(
    "--spread",
    type=float,
    default=0.25,
    show_default=True,
    metavar="SHARE",
    help="How far each is varied to either side, as a share of its default.",
)
@click.option(
    "--samples",
    type=int,
    default=256,
    show_default=True,
    metavar="N",
    help="A power of two; more make the intervals narrower.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31),
    default=1,
    show_default=True,
    metavar="N",
    help="The same seed gives the same indices.",
)
@click.option(
    "--weather",
    "weather",
    multiple=True,
    metavar="FILE|SAMPLE",
    help="A weather file or a packaged sample; given again for each place.  [default: "
    "the sample tallow-bend]",
)
@options.ONE_SOWING
@options.ONE_END
@options.ONE_SEEDING
@click.option(
    "--nitrogen",
    default=options.USUAL_PLAN["nitrogen"],
    show_default=True,
    metavar="RATE",
    help="Nitrogen at sowing, whose response is looked at, with its unit.",
)
@click.option(
    "--years",
    default="spread",
    show_default=True,
    metavar="YEARS",
    help="Fall years as elsewhere; spread is five, evenly over the record.",
)
@CHART
@options.with_options(options.ABOUT_FILE, options.FIELD, options.OUTPUT, options.DEBUG_OPTION)
def command(chart: Path | None, as_json: bool, out: Path | None, **asked: Any) -> None:
    """Vary the model's parameters together and say which an answer depends on.

    Sobol indices, first order and total, of the biomass at the end, the nitrate leached and the
    response to nitrogen; at one place or several.
    """
    from simulator.commands.shared.reporting import print_reply

    reply = make_reply(chart=chart, as_json=as_json, out=out, **asked)
    print_reply(reply, chart=chart, as_json=as_json, out=out)


def make_reply(
    *,
    parameters_of: str,
    only: tuple[str, ...],
    spread: float,
    samples: int,
    seed: int,
    weather: tuple[str, ...],
    sow: str,
    end: str,
    seeding: str,
    nitrogen: str,
    years: str,
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> Reply:
    """Read the question and answer it; arguments are the options, as click hands them over."""
    from simulator.answers.sensitivity import calculate as looked
    from simulator.answers.sensitivity.indices import check_samples
    from simulator.show.output import check_destination

    about_file, sets = options.split_field(asked)
    check_destination(out, inputs=weather)
    check_chart(chart, weather)
    wanted, falls = (
        (None, looked.MOST_FALLS) if years == "spread" else (plan_options.parse_years(years), None)
    )
    sow, end, seed_rate, nitrogen_rate = _read_plan(sow, end, seeding, nitrogen)
    records = _records(weather, about_file)
    for record in records.values():  # each goes on from the date of those before: one for all
        sow = covered_sowings(record, [sow], [end], wanted)[0]
    sets = with_soil_test(sets, {"sow": sow, "nitrogen": nitrogen, "nitrogen_timing": "sowing"})
    field = looked.Field(**sets, sow=sow, end=end, seeding=seed_rate, nitrogen=nitrogen_rate)
    names = plan_options.parts(only, option=Parameter("only")) if only else None
    parameters = looked.varied(field, names, kinds=_KINDS[parameters_of], spread=spread)  # type: ignore[arg-type]
    check_samples(samples)
    system = options.shown_units(units, next(iter(records.values())))
    places = {
        site: looked.SiteSeasons(record, field, wanted, falls) for site, record in records.items()
    }
    screened = len(parameters)
    if names is None:
        parameters = looked.screen(places, parameters)
    with options.progress(len(places) * samples * (len(parameters) + 2)) as tick:
        found = looked.sensitivity(places, parameters, samples=samples, seed=seed, tick=tick)
    how = {"spread": spread, "samples": samples, "seed": seed}
    answer = _answer(found, parameters, field, records, places, how)
    return _reply(answer, field, places, parameters, screened, samples, spread, system)


def _read_plan(sow: str, end: str, seeding: str, nitrogen: str) -> tuple[str, str, float, float]:
    """Read dates and rates [kg/ha] of the one plan; all faults are told."""
    from simulator.season import plan

    problems: list[Problem] = []
    dates = [
        plan_options.gathered(problems, partial(plan.month_day, text, name=name))
        for name, text in ((Parameter("sow"), sow), (Parameter("end"), end))
    ]
    rates = [
        plan_options.gathered(problems, partial(read, text, name=name))
        for name, text, read in (
            (Parameter("seeding"), seeding, plan.seeding_rates),
            (Parameter("nitrogen"), nitrogen, plan.nitrogen_rates),
        )
    ]
    for name, rate in zip((Parameter("seeding"), Parameter("nitrogen")), rates, strict=True):
        if rate is not None and (len(rate) != 1 or not rate[0] > 0.0):
            problems.append(Problem(name, "One rate above 0 is needed."))
    if problems:
        raise InputError(problems)
    first, last = map(str, dates)
    plan.check_order([first], [plan.dressings("sowing")], [plan.end(last)])
    seed_rate, nitrogen_rate = (rate[0] for rate in rates if rate)
    return first, last, seed_rate, nitrogen_rate


def _answer(
    found: dict[str, Indices],
    parameters: list[Varied],
    field: Field,
    records: dict[str, xr.Dataset],
    places: dict[str, SiteSeasons],
    how: dict[str, Any],
) -> Answer:
    """Word the answer."""
    from simulator.answers.sensitivity import data, words
    from simulator.show import cautions
    from simulator.show.output import Answer

    rows = data.rows_of(found, parameters)
    changed, parameter_notes = options.parameters_used()
    return Answer(
        command="sensitivity",
        version=__version__,
        line=options.command_line(),
        inputs={
            "site": list(records),
            "weather": [str(one.attrs["source"]) for one in records.values()],
            "cereal": field.cereal.name,
            "soil": field.soil.name,
            "previous_crop": field.previous_crop.name,
            "fertilizer": field.fertilizer.name,
            "sow": field.sow,
            "end": field.end,
            "seeding_kg_ha": field.seeding,
            "nitrogen_kg_ha": field.nitrogen,
            **how,
            "years": sorted({year for place in places.values() for year in place.years}),
            **changed,
        },
        data=data.dataset(found, parameters),
        rows=rows,
        notes=[*parameter_notes, *sowings_moved()],
        cautions=[
            cautions.invented(str(one.attrs["site"]))
            for one in records.values()
            if one.attrs.get("invented") == "yes"
        ],
        sentences=words.sentences(rows, how["spread"]),
    )


def _reply(
    answer: Answer,
    field: Field,
    places: dict[str, SiteSeasons],
    parameters: list[Varied],
    screened: int,
    samples: int,
    spread: float,
    system: System,
) -> Reply:
    from simulator.answers.sensitivity import table, words
    from simulator.commands.shared.reporting import spell_parameters
    from simulator.show.answer import Reply

    rows = answer.rows

    def draw() -> Any:
        from simulator.answers.shared.parameter_charts import sensitivity_chart

        headline, below = words.headline(rows, field, spread)
        return sensitivity_chart(rows, headline, [*below, *answer.cautions])

    return Reply(
        answer=spell_parameters(answer),
        draw=draw,
        lay_heading=lambda: words.heading(
            field, places, parameters, screened, samples, spread, system
        ),
        lay_tables=lambda: table.tables(rows, "--json and --out"),
    )


def _records(weather: tuple[str, ...], about_file: dict[str, Any]) -> dict[str, xr.Dataset]:
    """Read the weather of every place, by the name of its site."""
    if (given := weather_options.record_given()) is not None:
        return {str(given.attrs["site"]): given}
    problems: list[Problem] = []
    if len(weather) > MOST_PLACES:
        raise InputError(
            Problem(
                Parameter("weather"),
                f"{len(weather)} places are asked for.",
                f"Give at most {MOST_PLACES}.",
            )
        )
    records: dict[str, xr.Dataset] = {}
    for text in weather or (None,):
        record = plan_options.gathered(
            problems, partial(weather_options.load_weather, text, **about_file)
        )
        if record is None:
            continue
        site = str(record.attrs["site"])
        if site in records:
            problems.append(
                Problem(
                    Parameter("weather"),
                    f"The site '{site}' is given twice.",
                    "Give each place once.",
                )
            )
        records[site] = record
    if problems:
        raise InputError(problems)
    return records
