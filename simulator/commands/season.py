"""``fallsown season``: one stand, day by day."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands.shared import options, plan_options, weather_options
from simulator.commands.shared.charting import CHART, check_chart, draw
from simulator.commands.shared.clippings import MEASURED
from simulator.commands.shared.measured import with_soil_test
from simulator.commands.shared.sowing import covered_sowings
from simulator.problems import Parameter, fault

if TYPE_CHECKING:
    import xarray as xr

    from simulator.season.measured import Measured
    from simulator.season.plan import Plan
    from simulator.show.charts import Chart
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
@options.ONE_NITROGEN
@options.ONE_TIMING
@click.option(
    "--end",
    default=options.USUAL_PLAN["end"],
    show_default=True,
    metavar="WHEN",
    help="When the stand is ended: a date, a stage such as flowering or 'zadoks 61', or "
    "'4000 lb/acre'.",
)
@click.option(
    "--change",
    "changes",
    multiple=True,
    metavar="TEXT",
    help="Change the weather first, as in whatif; may be given again.",
)
@MEASURED
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
    measured: tuple[str, ...],
    chart: Path | None,
    units: str | None,
    as_json: bool,
    out: Path | None,
    **asked: Any,
) -> None:
    """Grow one stand day by day, and account for its water and nitrogen.

    The tables give a digest; --json and --out give every day. With --change the chart has the
    weather as recorded beside the changed. With --measured it says what the stand then had.
    """
    from simulator.commands.shared.reporting import print_answer
    from simulator.season.measured_text import read_measured
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
    read = read_measured(measured)
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
    more = _with_measured(record, days, plan, field, read, system) if read else None
    answer, text = _worded(days, system, more or {}, as_json=as_json)
    if chart is not None:
        before = run_season(unchanged, plan, **field, year=year) if changes else None
        draw(
            _season_chart((days, record), None if before is None else (before, unchanged), system),
            chart,
        )
    print_answer(answer, text, as_json=as_json, out=out)


def _season_chart(
    now: tuple[xr.Dataset, xr.Dataset], before: tuple[xr.Dataset, xr.Dataset] | None, system: System
) -> Chart:
    """Draw the season; beside it, where the weather was changed, the one as recorded."""
    from simulator.answers.season import chart as season_chart

    if before is not None:
        return season_chart.before_and_after(before, now, system)
    return season_chart.chart(now[0], system, weather=now[1])


def _with_measured(
    record: xr.Dataset,
    days: xr.Dataset,
    plan: Plan,
    field: dict[str, Any],
    read: tuple[Measured, ...],
    system: System,
) -> dict[str, Any]:
    """Say what the stand had, told what was measured: sentences, notes, and what JSON has."""
    from simulator.answers.outlook import clipped_data, clipped_words, measured_season

    asked = {name: getattr(plan, name) for name in ("sow", "seeding", "nitrogen")}
    asked["nitrogen_timing"] = plan.nitrogen_timing
    error = options.model_errors().level
    found = measured_season.weigh_season(record, days, asked, field, read, error)
    low, middle, high = (float(one) for one in found.bands[0])
    return {
        "sentences": measured_season.sentences(found, days, system),
        "notes": clipped_words.notes(found, system),
        "measured": {
            "biomass_low_kg_ha": low,
            "biomass_median_kg_ha": middle,
            "biomass_high_kg_ha": high,
            **clipped_data.more_of_clipped(found),
        },
    }


def _worded(
    days: xr.Dataset, system: System, measured: dict[str, Any], *, as_json: bool
) -> tuple[Answer, str]:
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
        notes=[*days.attrs["notes"], *measured.pop("notes", [])],
        cautions=cautions(days.attrs, nitrogen=days.attrs["nitrogen_kg_ha"] > 0, termination=True),
        sentences=[
            *one_season.sentences(days, system, options.model_errors()),
            *measured.pop("sentences", []),
        ],
        balances=one_season.balances(days),
        **measured,
    )
    if as_json:
        return answer, ""
    tables = [digest(days, system), *balance_tables(days, system)]
    return answer, answer_text(answer, heading(days, system), tables)


def _last_year(record: xr.Dataset, sow: str, last: str) -> int:
    """Return the last fall year whose weather is whole from sowing to a last day."""
    from simulator.weather.fall_year import usable_years
    from simulator.weather.record import fill_short_gaps

    years, left_out = usable_years(fill_short_gaps(record), sow, last)
    if not years:
        why = [f"{year}: {reason}" for year, reason in left_out.items()][-1:]
        raise fault(
            Parameter("year"), f"No season of this weather is whole from {sow} to {last}.", *why
        )
    return years[-1]
