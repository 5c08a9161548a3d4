"""Generated weather as tables: months, and statistics beside the record's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table
from simulator.weather.generator.against_recorded import MEMBERS, Held
from simulator.weather.generator.generated import Made
from simulator.weather.generator.statistics import FROST, calendar_of, mean_of
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def shown(value: float, kind: str, system: units.System) -> str:
    """Print a statistic in the reader's units, without the unit."""
    if kind in ("share", "correlation"):
        return plain_number(value, 2)
    if kind == "days":
        return plain_number(value, 1)
    return number(value, kind, system, digits=1 if kind in ("temperature", "step") else None)


def unit(kind: str, system: units.System) -> str:
    """Return the unit of a kind of statistic; empty where it has none."""
    if kind in ("share", "correlation"):
        return ""
    return "days" if kind == "days" else units.label(kind, system)


def month_table(made: Made, record: xr.Dataset, wet_day: float, system: units.System) -> str:
    """Print each month, recorded and generated: the means that most answers depend on."""
    rain_unit, degrees = units.label("rain", system), units.label("temperature", system)
    columns = [Column("", left=True)]
    for title, of in (
        ("rain", rain_unit),
        ("wet days", ""),
        ("Tmax", degrees),
        ("Tmin", degrees),
        ("frost days", ""),
    ):
        columns += [Column(f"{title}\nrecorded", of), Column("gener-\nated", of)]
    pairs = [month_means(one, wet_day) for one in (record, made.record)]
    rows = []
    for month, name in enumerate(MONTHS):
        cells = [name]
        for key, kind in (
            ("rain", "rain"),
            ("wet", "days"),
            ("tmax", "temperature"),
            ("tmin", "temperature"),
            ("frost", "days"),
        ):
            cells += [shown(pair[key][month], kind, system) for pair in pairs]
        rows.append(cells)
    return f"{table(columns, rows)}\n\n" + paragraph(
        "Means of a month. The generated ones are a sample too: they differ by chance."
    )


def month_means(record: xr.Dataset, wet_day: float) -> dict[str, NDArray[np.float64]]:
    """Average all days of each month of the year; NaN where fewer than `FEWEST_DAYS` are known."""
    month = calendar_of(record["time"].values).month
    tmax, tmin, rain = (record[name].values.astype(float) for name in NAMES)
    lengths = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    wet = np.where(np.isnan(rain), np.nan, rain >= wet_day)
    frost = np.where(np.isnan(tmin), np.nan, tmin < FROST)
    return {
        "rain": mean_of(month, rain) * lengths,
        "wet": mean_of(month, wet) * lengths,
        "tmax": mean_of(month, tmax),
        "tmin": mean_of(month, tmin),
        "frost": mean_of(month, frost) * lengths,
    }


def held_table(held: Sequence[Held], system: units.System) -> str:
    """Print every statistic with how the record lies among generated ones."""
    columns = [
        Column("statistic, mean of its months", left=True),
        Column("", left=True),
        Column("recorded"),
        Column("gener-\nated"),
        Column("months\noutside"),
        Column("devia-\ntions"),
        Column("", left=True),
    ]
    rows = []
    for one in held:
        kind = one.statistic.kind
        usable = ~np.isnan(one.generated)
        means = [
            float(values[usable].mean()) if usable.any() else float("nan")
            for values in (one.recorded, one.generated)
        ]
        rows.append(
            [
                one.statistic.label,
                unit(kind, system),
                *(shown(value, kind, system) for value in means),
                f"{int(one.beyond.sum())} of {one.months}" if one.months else NOTHING,
                plain_number(one.deviations, 1),
                verdict(one),
            ]
        )
    return f"{table(columns, rows)}\n\n" + paragraph(
        f"{MEMBERS} records as long as yours, with the same gaps, were generated. Outside: the "
        "record's month lies beyond 95 of 100 of them. Deviations: by how many of their standard "
        "deviations the record's mean over the months lies above theirs."
    )


def verdict(one: Held) -> str:
    """Say in a word how a statistic is kept."""
    if not one.months:
        return "too few days"
    return "differs" if one.fails else "kept"
