"""``fallsown risk``: how surely plans reach a target, and what they cost in nitrate."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator.commands import options
from simulator.commands.sowing import covered_sowings
from simulator.problems import InputError, Problem, fault

if TYPE_CHECKING:
    import xarray as xr

_WEATHER_FILES = (".csv", ".txt", ".tsv", ".dly", ".nc", ".xlsx")
MOST_PLACES = 200


@click.command("risk", short_help="How surely is a target reached, by how late a sowing?")
@click.option("--target", default="4000 lb/acre", show_default=True, metavar="MASS",
              help="Biomass to reach, with its unit.")  # fmt: skip
@click.option("--chance", default=80, show_default=True, metavar="PERCENT",
              type=click.IntRange(1, 99), help="Share of falls in which the latest sowing must "
              "still reach it; 80 is four years in five.")  # fmt: skip
@click.option("--weather", multiple=True, metavar="FILE|FOLDER|SAMPLE",
              help="A weather file, a folder of them, or a packaged sample; may be given again.  "
              "[default: the sample tallow-bend]")  # fmt: skip
@click.option("--kinds", metavar="HOW|FILE",
              help="Sort falls by 'fall rain', 'fall temperature' or 'fall' (both), in thirds of "
              "the record's own; or by a file: your list (year,kind) or the Oceanic Nino Index."
              )  # fmt: skip
@click.option("--kinds-season", default="OND", show_default=True, metavar="MONTHS",
              help="Season of the Oceanic Nino Index.")  # fmt: skip
@click.option("--weights", metavar="TEXT", help="A forecast of the kind of year, such as "
              "'wet 50, normal 30, dry 20'.  [kinds: fall rain]")  # fmt: skip
@click.option("--chart", metavar="FILE", type=click.Path(path_type=Path),
              help="Draw how often biomass is reached: FILE.svg, .png, .pdf or .html.")  # fmt: skip
@options.with_options(options.PLANS, options.YEARS, options.ABOUT_FILE, options.FIELD,
                      options.OUTPUT, options.DEBUG_OPTION)  # fmt: skip
def command(
    *, target: str, chance: int, weather: tuple[str, ...], kinds: str | None, kinds_season: str,
    weights: str | None, chart: Path | None, sow: tuple[str, ...], seeding: tuple[str, ...],
    nitrogen: tuple[str, ...], nitrogen_timing: tuple[str, ...], end: tuple[str, ...], years: str,
    units: str | None, as_json: bool, out: Path | None, **asked: Any,
) -> None:  # fmt: skip
    """How surely each plan reaches a target, and the latest sowing that still does.

    For one place or several; over all falls, by kind of year, and for a forecast of the kind.
    Chances have intervals that say how few falls there are. Nitrate lost is held against the
    limit for drinking water.
    """
    from simulator.advice import risk
    from simulator.advice.cautions import cautions, dead_stands
    from simulator.commands.answering import check_size, gather, give
    from simulator.show import risk as show
    from simulator.show.answer import answer_text
    from simulator.show.charts import SUFFIXES, write_chart
    from simulator.show.output import check_destination
    from simulator.weather.year_types import FALL_RAIN, kinds_of_year, parse_weights

    about, field = options.split_field(asked)
    files = places(weather)
    check_destination(out, inputs=[*files, kinds], called="one of the files read")
    check_destination(chart, inputs=files, option="--chart", suffixes=SUFFIXES)
    wanted = options.parse_years(years)
    plans = options.plans(sow=sow, seeding=seeding, nitrogen=nitrogen,
                          nitrogen_timing=nitrogen_timing, end=end)  # fmt: skip
    if massive := [text for text in plans["end"] if "/" in text]:
        raise fault("--end", f"'{massive[0]}' is a biomass, which the risk is to tell.",
                    "Write a date or a stage.")  # fmt: skip
    goal = read_target(target)
    how = FALL_RAIN if kinds is None and weights is not None else kinds

    def risk_of(name: str | None) -> tuple[xr.Dataset, risk.Risk]:
        is_file = len(files) == 1 or Path(str(name)).is_file()
        record = options.load_weather(name, **(about if is_file else dict.fromkeys(about)))
        check_size(wanted, record, *(len(plans[name]) for name in plans if name != "end"))
        sorted_by = kinds_of_year(record, how, season=kinds_season) if how is not None else None
        forecast = None if weights is None else parse_weights(weights, sorted_by or {})
        return record, risk.risk_at(
            record,
            {**plans, "sow": covered_sowings(record, plans["sow"], plans["end"], wanted)},
            field, target=goal, often=chance / 100, years=wanted,
            kinds=sorted_by, weights=forecast, announce=options.announce,
        )  # fmt: skip

    records, found, left_out, problems = [], [], [], []
    for name in files:
        try:
            record, one = risk_of(name)
        except InputError as error:
            problems += error.problems
            left_out.append(f"{name}: {error.problems[0]}")
            continue
        records.append(record)
        found.append(one)
    if not found:
        raise InputError(list(dict.fromkeys(problems)))
    system = options.shown_units(units, records[0])
    found = show.told_apart(found)
    several = len(found) > 1
    notes = []
    for one in found:
        before = f"{one.site}: " if several else ""
        left_out += [f"{before}{text}" for text in one.grid.attrs["left_out"]]
        notes += [f"{before}{text}" for text in (
            *one.grid.attrs["notes"], *show.notes(one, how), *dead_stands(one.grid))]  # fmt: skip
    answer = gather(
        "risk", show.dataset(found), left_out=left_out, notes=notes,
        cautions=list(dict.fromkeys(
            text for one in found
            for text in cautions(one.grid.attrs, nitrogen=True, termination=True)
        )),
        sentences=[f"{one.site}: {text}" if several else text
                   for one in found for text in show.sentences(one, system)],
    )  # fmt: skip
    answer.inputs.update(show.inputs(found, how, weights))
    if chart is not None:
        write_chart(show.chart(found, system), chart, title="How often the target is reached")
        options.announce(f"Drawn: {chart}.")
    give(answer, "" if as_json else answer_text(answer, *show.text(found, system)),
         as_json=as_json, out=out)  # fmt: skip


def places(weather: tuple[str, ...]) -> list[str | None]:
    """List the weather files: folders opened, the default sample where none is named.

    Raises
    ------
    InputError
        A folder without weather files, too many places, or one named twice.
    """
    found: list[str | None] = []
    problems: list[Problem] = []
    for name in weather:
        if not Path(name).is_dir():
            found.append(name)
            continue
        inside = sorted(str(path) for path in Path(name).iterdir()
                        if path.suffix.lower() in _WEATHER_FILES and path.is_file())  # fmt: skip
        if not inside:
            problems.append(Problem("--weather", f"The folder '{name}' has no weather files.",
                                    f"They end in {', '.join(_WEATHER_FILES)}."))  # fmt: skip
        found += inside
    twice = {name for name in found if found.count(name) > 1}
    if twice:
        problems.append(Problem("--weather", f"{', '.join(map(str, sorted(map(str, twice))))} is "
                                "named twice.", "Name each once."))  # fmt: skip
    if len(found) > MOST_PLACES:
        problems.append(Problem("--weather", f"{len(found)} places are too many at once.",
                                f"Take at most {MOST_PLACES}."))  # fmt: skip
    if problems:
        raise InputError(problems)
    return found or [None]


def read_target(text: str) -> float:
    """Read the target [kg/ha].

    Raises
    ------
    InputError
        No unit, or out of range.
    """
    from simulator import units
    from simulator.season.plan import ENDING_RANGE, told_range

    target = units.parse(text, "kg/ha", name="--target")
    if not ENDING_RANGE[0] <= target <= ENDING_RANGE[1]:
        raise fault("--target", f"'{text}' is out of range.", told_range(ENDING_RANGE))
    return target
