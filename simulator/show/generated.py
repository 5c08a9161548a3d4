"""Generated weather, as people and as programs read it: how it was made, how like it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table
from simulator.weather.generated import FITTED, Made
from simulator.weather.generated_against_recorded import BY_CHANCE, MEMBERS, Held
from simulator.weather.generator_fit import FittedClimatology
from simulator.weather.generator_statistics import FROST, calendar_of, mean_of
from simulator.weather.record import NAMES

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

    from simulator.weather.invented_places import Places

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_UNITS = {"share": "1", "correlation": "1", "days": "day", "rain": "mm", "temperature": "degC",
          "step": "degC"}  # fmt: skip
_DAY_VARIABLES = {
    "tmax": ("tmax_degC", "degC", "daily maximum temperature"),
    "tmin": ("tmin_degC", "degC", "daily minimum temperature"),
    "rain": ("rain_mm", "mm", "daily rain, snow as water"),
}
FOR_RISK = (
    "A fitted generator makes days that never were, and loses what only whole seasons have; for "
    "risk, take --method resampled first and this second."
)


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


def heading(made: Made, record: xr.Dataset, seed: int) -> str:
    """Say what was made from what."""
    days = made.record["time"].values.astype("datetime64[D]")
    first, last = int(str(days[0])[:4]), int(str(days[-1])[:4]) - 1
    own = record["time"].values.astype("datetime64[D]")
    if made.donors is None:
        how = "drawn day by day from a generator fitted to"
    else:
        blocks = made.donors.shape[1] > 1
        how = f"put together from {'blocks of the' if blocks else 'whole'} seasons of"
    return paragraph(
        f"{wording.falls(range(first, last + 1)).capitalize()}, of invented weather {how} "
        f"{record.attrs.get('site', 'the record')} ({own[0]} to {own[-1]}), seed {seed}."
    )


def fit_sentences(fitted: FittedClimatology, system: units.System) -> list[str]:
    """Say what the data chose."""
    others = [value - min(fitted.order_criterion) for value in fitted.order_criterion]
    orders = ", ".join(f"{order}: {behind:.0f}" for order, behind in enumerate(others))
    behind = ", ".join(f"{name} {value:.0f}" for name, value in fitted.akaike.items())
    climate = fitted.climate
    steps = [number(float(end), "step", system) for end in (fitted.season.min(),
                                                            fitted.season.max())]  # fmt: skip
    told = [
        f"Days of {units.spell(fitted.wet_day, 'rain', system)} of rain or more count as wet. Wet "
        f"and dry days follow a Markov chain of order {fitted.order} (Bayesian information "
        f"criterion above the least, by order {orders}; Katz 1981).",
        f"Rain of a wet day follows the {fitted.family} distribution (Akaike's criterion above "
        f"the least: {behind}); it misses the record's 99 % quantile by "
        f"{fitted.misses[fitted.family]:+.1f} standard errors.",
    ]
    if climate.wet_odds or climate.wet_amount or fitted.season.any():
        told.append(
            "Seasons differ beyond what such a chain gives by itself: the logarithm of the odds of "
            f"rain by {climate.wet_odds:.2f}, that of rain a wet day by {climate.wet_amount:.2f}, "
            f"temperature by {steps[0]} to {steps[1]} {units.label('step', system)} (standard "
            "deviations, sized so that months and quarters vary between years as recorded)."
        )
    else:
        told.append("No difference between seasons was added to what the chain gives by itself.")
    return told


def month_table(made: Made, record: xr.Dataset, wet_day: float, system: units.System) -> str:
    """Print each month, recorded and generated: the means that most answers hang on."""
    rain_unit, degrees = units.label("rain", system), units.label("temperature", system)
    columns = [Column("", left=True)]
    for title, of in (("rain", rain_unit), ("wet days", ""), ("Tmax", degrees), ("Tmin", degrees),
                      ("frost days", "")):  # fmt: skip
        columns += [Column(f"{title}\nrecorded", of), Column("gener-\nated", of)]
    pairs = [month_means(one, wet_day) for one in (record, made.record)]
    rows = []
    for month, name in enumerate(MONTHS):
        cells = [name]
        for key, kind in (("rain", "rain"), ("wet", "days"), ("tmax", "temperature"),
                          ("tmin", "temperature"), ("frost", "days")):  # fmt: skip
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
    return {"rain": mean_of(month, rain) * lengths, "wet": mean_of(month, wet) * lengths,
            "tmax": mean_of(month, tmax), "tmin": mean_of(month, tmin),
            "frost": mean_of(month, frost) * lengths}  # fmt: skip


def held_table(held: Sequence[Held], system: units.System) -> str:
    """Print every statistic with how the record lies among generated ones."""
    columns = [Column("statistic, mean of its months", left=True), Column("", left=True),
               Column("recorded"), Column("gener-\nated"), Column("months\noutside"),
               Column("devia-\ntions"), Column("", left=True)]  # fmt: skip
    rows = []
    for one in held:
        kind = one.statistic.kind
        usable = ~np.isnan(one.generated)
        means = [float(values[usable].mean()) if usable.any() else float("nan")
                 for values in (one.recorded, one.generated)]  # fmt: skip
        rows.append([
            one.statistic.label, unit(kind, system),
            *(shown(value, kind, system) for value in means),
            f"{int(one.beyond.sum())} of {one.months}" if one.months else NOTHING,
            plain_number(one.deviations, 1), verdict(one),
        ])  # fmt: skip
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


def held_sentences(held: Sequence[Held]) -> list[str]:
    """Name what differs beyond chance, and how much would by chance alone."""
    judged = [one for one in held if one.months]
    failing = [one for one in judged if one.fails]
    months = sum(one.months for one in judged)
    outside = sum(int(one.beyond.sum()) for one in judged)
    told = [headline(held)]
    if failing:
        told.append("Recorded beside generated: " + "; ".join(map(_direction, failing)) + ".")
    told.append(
        f"Of {months} monthly values, {outside} lie outside the range of 95 in 100 generated "
        f"records; chance alone would put about {round(0.05 * months)} there, and have about "
        f"{plain_number(BY_CHANCE * len(judged), 0)} of {len(judged)} statistics said to differ."
    )
    return told


def headline(held: Sequence[Held]) -> str:
    """Say the finding in a sentence."""
    judged = [one for one in held if one.months]
    failing = [one.statistic.label for one in judged if one.fails]
    if not failing:
        return f"The generator keeps all {len(judged)} statistics, within chance."
    # names have commas in them
    return (f"The generator differs from the record, beyond chance, in {len(failing)} of "
            f"{len(judged)} statistics: {'; '.join(failing)}.")  # fmt: skip


def _direction(one: Held) -> str:
    usable = ~np.isnan(one.generated)
    recorded, made = one.recorded[usable].mean(), one.generated[usable].mean()
    side = "larger" if recorded > made else "smaller"
    outside = int(one.beyond.sum())
    months = "month" if outside == 1 else "months"
    return f"{one.statistic.label} {side} as recorded ({outside} {months} outside)"


def held_rows(held: Sequence[Held]) -> list[dict[str, Any]]:
    """Return every statistic and month as JSON has it, SI."""

    def plain(value: float) -> float | None:
        return float(value) if np.isfinite(value) else None

    return [
        {
            "statistic": one.statistic.name, "label": one.statistic.label,
            "unit": _UNITS[one.statistic.kind], "month": month + 1,
            "recorded": plain(one.recorded[month]), "generated": plain(one.generated[month]),
            "low": plain(one.low[month]), "high": plain(one.high[month]),
            "outside": bool(one.beyond[month]), "differs": one.fails,
        }
        for one in held
        for month in range(12)
    ]  # fmt: skip


def fit_json(fitted: FittedClimatology) -> dict[str, Any]:
    """Return what was fitted, as JSON has it."""
    climate = fitted.climate
    return {
        "method": FITTED, "wet_day_mm": fitted.wet_day, "order": fitted.order,
        "order_criterion": fitted.order_criterion, "distribution": fitted.family,
        "akaike_above_least": fitted.akaike, "standard_errors_off_at_99": fitted.misses,
        "season_log_odds_of_rain": climate.wet_odds, "season_log_rain": climate.wet_amount,
        "season_temperature_degC": fitted.season.tolist(),
        "years_of_month": fitted.years.tolist(), "weak": fitted.weak,
    }  # fmt: skip


def dataset(record: xr.Dataset) -> xr.Dataset:
    """Lay the days out for JSON: the names of every command."""
    import xarray as xr

    made = xr.Dataset(
        {name: ("time", record[old].values, {"units": unit, "long_name": meaning})
         for old, (name, unit, meaning) in _DAY_VARIABLES.items()},
        {"time": record["time"].values},
    )  # fmt: skip
    return made.assign_attrs(record.attrs)


def places_dataset(places: Places, soils: Sequence[str], about: dict[str, Any]) -> xr.Dataset:
    """Lay invented places out for JSON."""
    import xarray as xr

    columns: dict[str, tuple[Any, str, str]] = {
        "latitude": (places.latitude, "degrees_north", "latitude"),
        "longitude": (places.longitude, "degrees_east", "longitude"),
        "warmer_degC": (places.warmer, "degC", "warmer than the fitted place"),
        "wetter": (places.wetter, "1", "rain over that of the fitted place"),
    }
    if soils:
        given = np.array([soils[place % len(soils)] for place in range(len(places.names))],
                         dtype=object)  # fmt: skip
        columns["soil"] = (given, "", "soil texture")
    return xr.Dataset(
        {name: ("site", values, {"units": unit, "long_name": meaning})
         for name, (values, unit, meaning) in columns.items()},
        {"site": np.array(places.names, dtype=object)},
        {name: value for name, value in about.items() if name != "site"},
    )  # fmt: skip


def places_heading(
    places: Places, fitted: FittedClimatology, years: int, seed: int, system: units.System
) -> str:
    """Say what was made of the fitted place."""
    count = len(places.names)
    warmer = [number(float(end), "step", system, sign=True)
              for end in (places.warmer.min(), places.warmer.max())]  # fmt: skip
    return paragraph(
        f"{count:,} invented {'place' if count == 1 else 'places'} around {fitted.site}, {years} "
        f"falls each, seed {seed}: latitude {places.latitude.min():.1f} to "
        f"{places.latitude.max():.1f}, {warmer[0]} to {warmer[1]} {units.label('step', system)} "
        f"on average, {places.wetter.min():.2f} to {places.wetter.max():.2f} times its rain. The "
        "weather of each is drawn by itself: neighbours do not share storms."
    )
