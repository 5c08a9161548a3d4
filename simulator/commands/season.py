"""``fallsown season``: one stand, day by day."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart, draw
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.output import Answer
    from simulator.units import System


@click.command("season", short_help="Grow one stand, day by day.")
@click.option(
    "--year",
    type=int,
    metavar="YEAR",
    help="Fall year.  [default: the last that the weather covers]",
)
@options.ONE_SOWING
@options.ONE_SEEDING
@options.one_rate("0 lb/acre")
@options.ONE_TIMING
@click.option(
    "--end",
    default="04-15",
    show_default=True,
    metavar="WHEN",
    help="When the stand is ended: a date, 'zadoks 61', or '4000 lb/acre'.",
)
@click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="TEXT",
    help="Change the weather first, as in whatif; may be given again.",
)
@CHART
@options.with_options(options.WEATHER, options.FIELD, options.OUTPUT, options.DEBUG_OPTION)
def command(
    *,
    year: int | None,
    sow: str,
    seeding: str,
    nitrogen: str,
    nitrogen_timing: str,
    end: str,
    changes: tuple[str, ...],
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> None:
    """Grow one stand day by day, and account for its water and nitrogen.

    The tables give a digest; --json and --out give every day. With --change the chart has the
    weather as recorded beside the changed.
    """
    from simulator.commands.shared.reporting import print_answer
    from simulator.season.plan import Plan
    from simulator.show.output import check_destination
    from simulator.weather.change import change_weather

    asked, field = options.split_field(asked)
    check_destination(out, inputs=[asked["weather"]])
    check_chart(chart, [asked["weather"]])
    asked_plan = plan_options.plans(
        sow=[sow],
        seeding=[seeding],
        nitrogen=[nitrogen],
        nitrogen_timing=[nitrogen_timing],
        end=[end],
        changes=changes,
    )
    plan = Plan(
        cereal=field["cereal"].name,
        fertilizer=field["fertilizer"].name,
        **plan_options.one_each(asked_plan),
    )
    unchanged = weather_options.load_weather(**asked)
    system = options.shown_units(units, unchanged)
    record = change_weather(unchanged, *changes) if changes else unchanged
    last = plan.end if "-" in plan.end else "04-15"
    (sow,) = covered_sowings(record, [plan.sow], [last], None if year is None else [year])
    from simulator.season.one_season import run_season

    field = with_soil_test(field, {**asked_plan, "sow": sow})
    plan, year = replace(plan, sow=sow), year or _last_year(record, sow, last)
    days = run_season(record, plan, **field, year=year, announce=options.announce)
    days.attrs["read_notes"] = record.attrs.get("notes", "")
    answer, text = _worded(days, system, as_json=as_json)
    if chart is not None:
        from simulator.answers.season import chart as season_chart

        if changes:
            before = run_season(unchanged, plan, **field, year=year)
            drawn = season_chart.before_and_after((before, unchanged), (days, record), system)
        else:
            drawn = season_chart.chart(days, system, weather=record)
        draw(drawn, chart)
    print_answer(answer, text, as_json=as_json, out=out)


def _worded(days: xr.Dataset, system: System, *, as_json: bool) -> tuple[Answer, str]:
    """Word the answer: as it is written to files, and as people read it."""
    from simulator.answers.season import words as one_season
    from simulator.answers.season.table import balance_tables, digest, heading
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import answer_text
    from simulator.show.cautions import cautions

    answer = make_answer(
        "season",
        days.drop_dims("layer"),
        left_out=[],
        notes=list(days.attrs["notes"]),
        cautions=cautions(days.attrs, nitrogen=days.attrs["nitrogen_kg_ha"] > 0, termination=True),
        sentences=one_season.sentences(days, system),
        balances=one_season.balances(days),
    )
    if as_json:
        return answer, ""
    tables = [digest(days, system), *balance_tables(days, system)]
    return answer, answer_text(answer, heading(days, system), tables)


def _last_year(record: xr.Dataset, sow: str, last: str) -> int:
    """Return the last fall year whose weather is whole from sowing to a last day."""
    from simulator.weather.record import fill_short_gaps, usable_years

    years, left_out = usable_years(fill_short_gaps(record), sow, last)
    if not years:
        why = [f"{year}: {reason}" for year, reason in left_out.items()][-1:]
        raise fault(
            Parameter("year"), f"No season of this weather is whole from {sow} to {last}.", *why
        )
    return years[-1]
