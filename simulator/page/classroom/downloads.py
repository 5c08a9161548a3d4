"""What a class takes away: a day and a season as tables in the reader's units, and as pictures."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from simulator import __version__, units
from simulator.page.classroom.methods import (
    CURVE_NAMES,
    CUTOFF_NAMES,
    SOURCES,
    VALUES,
    air,
    counted_by_hour,
    method_name,
)
from simulator.page.classroom.pictures import day_picture, stage_marks, sums_picture, unnamed
from simulator.page.classroom.question import ClassQuestion
from simulator.page.classroom.questions import two, when, whole
from simulator.page.classroom.season import asked_day, came_from, named, summed, top
from simulator.page.downloads import LINE
from simulator.page.pictures import specification
from simulator.page.records import PlaceWeather
from simulator.show.charts import Chart
from simulator.show.csv_table import table_text
from simulator.show.wording import threshold

TABLES = ("day", "curve", "season")
PICTURES = ("day", "season")
STEPS = 96  # of a day, a quarter of an hour each
PLACES = 4  # decimals of a table: what follows them is nobody's

Rows = list[dict[str, Any]]
Drawn = tuple[Chart, dict[str, Rows] | None, str, str]  # a chart, its data, its title, lines below


def table(asked: ClassQuestion, place: PlaceWeather, which: str) -> str:
    """Return one of `TABLES` as CSV, its units in the header, its origin above it."""
    rows = {"day": day_rows, "curve": curve_rows, "season": season_rows}[which](asked, place)
    return table_text(_about(asked, place, which), rows)


def _heads(asked: ClassQuestion) -> tuple[str, str]:
    """Return the units of temperature and of thermal time, as weather files have them."""
    degrees, warmth = (
        units.label(kind, asked.system).replace("°", "deg")
        for kind in ("temperature", "thermal_time")
    )
    return degrees, warmth


def _shown(values: Any, kind: str, asked: ClassQuestion) -> list[float]:
    rounded: list[float] = np.round(units.show(values, kind, asked.system), PLACES).tolist()
    return rounded


def _about(asked: ClassQuestion, place: PlaceWeather, which: str) -> dict[str, str]:
    """Say above a table what is in it and where it comes from."""
    values = {
        "made_by": f"fallsown {__version__}, the view of thermal time",
        "chosen_method": method_name(asked.curve, asked.cutoff),
        "base": threshold(asked.base, asked.system),
        "upper_limit": threshold(asked.upper, asked.system),
    }
    if which == "season":
        season = summed(asked, place)
        values |= {"stand": f"{asked.cereal} sown on {when(season, 0)} at {named(place)}"}
        note = (
            "the sum runs from sowing; the simulator's own count and the stages are those of "
            "its own method and limits"
        )
        return {**values, "note": note}
    day = asked_day(asked, place)
    values |= {
        "lowest": threshold(day.tmin, asked.system),
        "highest": threshold(day.tmax, asked.system),
    }
    if asked.taken is not None:
        values["day"] = came_from(asked, place)
    if which == "curve":
        values["note"] = (
            f"middles of {STEPS} equal parts of the day, from one lowest temperature "
            "to the next; the mean of the last column is the day's thermal time, as "
            "near as such parts can give it"
        )
    return values


def day_rows(asked: ClassQuestion, place: PlaceWeather) -> Rows:
    """Return each method's count of the day, one a row."""
    day, (_, warmth) = asked_day(asked, place), _heads(asked)
    return [
        {
            "how the day runs": CURVE_NAMES[curve],
            "above the limit": CUTOFF_NAMES[cutoff],
            f"thermal time ({warmth})": _shown(count(day), "thermal_time", asked),
            "source": SOURCES[curve],
        }
        for (curve, cutoff), count in VALUES.items()
    ]


def curve_rows(asked: ClassQuestion, place: PlaceWeather) -> Rows:
    """Return the air by each curve, hour by hour, and what the chosen method counts of it."""
    day, (degrees, _) = asked_day(asked, place), _heads(asked)
    hours = (np.arange(STEPS) + 0.5) * 24.0 / STEPS
    runs = {
        f"{name} ({degrees})": _shown(air(curve, day, hours), "temperature", asked)
        for curve, name in CURVE_NAMES.items()
    }
    warmth = counted_by_hour(asked.curve, asked.cutoff, day, hours)
    columns = {
        "hour (h)": hours.tolist(),
        **runs,
        f"counted by the chosen method ({degrees})": _shown(warmth, "thermal_time", asked),
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def season_rows(asked: ClassQuestion, place: PlaceWeather) -> Rows:
    """Return the season's days, each with its warmth, the sum so far and the stages reached."""
    season, (degrees, warmth) = summed(asked, place), _heads(asked)
    sums = season.sums[asked.curve, asked.cutoff]
    reached: dict[int, list[str]] = {}
    for stage in season.stages:
        reached.setdefault(stage.at, []).append(stage.name)
    columns: dict[str, list[Any]] = {
        "date": season.days.astype(str).tolist(),
        f"tmax ({degrees})": _shown(season.tmax, "temperature", asked),
        f"tmin ({degrees})": _shown(season.tmin, "temperature", asked),
        f"degree days of the day ({warmth})": _shown(
            np.diff(sums, prepend=0.0), "thermal_time", asked
        ),
        f"sum ({warmth})": _shown(sums, "thermal_time", asked),
        f"the simulator's own sum ({warmth})": _shown(season.own, "thermal_time", asked),
        "stage": [", ".join(reached.get(at, [])) for at in range(season.days.size)],
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def picture(asked: ClassQuestion, place: PlaceWeather, which: str) -> dict[str, Any]:
    """Return one of `PICTURES` with its data, its title what it shows, as Vega-Lite has it."""
    made, data, headline, below = (_day if which == "day" else _season)(asked, place)
    return specification(made, data, textwrap.wrap(headline, LINE), textwrap.wrap(below, LINE + 24))


def _day(asked: ClassQuestion, place: PlaceWeather) -> Drawn:
    day, system = asked_day(asked, place), asked.system
    values = {key: two(count(day), system) for key, count in VALUES.items()}
    name = method_name(asked.curve, asked.cutoff)
    headline = f"{name[0].upper()}{name[1:]} counts {values[asked.curve, asked.cutoff]}"
    below = (
        f"{came_from(asked, place) or 'A day'}: {threshold(day.tmin, system)} to "
        f"{threshold(day.tmax, system)}. Shaded: what is counted above B, the base, "
        "in degrees times days; U is the limit."
    )
    if asked.cutoff == "intermediate" and day.tmax > day.upper:
        below += (
            " In another colour, below U: what is taken off again, for the curve folds down at U."
        )
    return day_picture(day, asked.curve, asked.cutoff, system), None, headline, below


def _season(asked: ClassQuestion, place: PlaceWeather) -> Drawn:
    season, system = summed(asked, place), asked.system
    on = season.at(asked.on)
    chosen = season.sums[asked.curve, asked.cutoff]
    headline = (
        f"By {when(season, on)}: {whole(float(chosen[on]), system)} by "
        f"{method_name(asked.curve, asked.cutoff)}, {whole(float(season.own[on]), system)} "
        "by the simulator's own count"
    )
    below = (
        f"{asked.cereal.capitalize()} sown on {when(season, 0)} at {named(place)}. Dashed: "
        f"the chosen method, above {threshold(asked.base, system)} and up to "
        f"{threshold(asked.upper, system)}; solid: the simulator's own; band: from the least "
        "to the most of all methods."
    )
    small = [season.stages[at] for at in unnamed(season, system)]
    if small:
        text = ", ".join(f"{stage.name} on {when(season, stage.at)[:-5]}" for stage in small)
        below += f" Points without a name: {text}."
    every = np.array(list(season.sums.values()))
    lines: dict[str, Any] = {
        "chosen": chosen,
        "own": season.own,
        "least": every.min(axis=0),
        "most": every.max(axis=0),
    }
    columns = {"day": season.moments} | {
        name: np.round(units.show(values, "thermal_time", system), 1).tolist()
        for name, values in lines.items()
    }
    sums = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    ends = {
        "sumTop": max(top(place, system), *columns["most"], *columns["own"]),
        "today": season.moments[on],
    }
    return (
        sums_picture(system, ends),
        {"sums": sums, "stages": stage_marks(season, system)},
        headline,
        below,
    )
