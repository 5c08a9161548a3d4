"""Generated weather in sentences: how it was made, how like it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.problems import Parameter, Text
from simulator.show import wording
from simulator.show.tables import number, paragraph, plain_number
from simulator.weather.generator.against_recorded import BY_CHANCE, Held
from simulator.weather.generator.fit import FittedClimatology
from simulator.weather.generator.generated import Made

if TYPE_CHECKING:
    import xarray as xr

    from simulator.weather.generator.invented_places import Places

FOR_RISK = Text(
    "A fitted generator makes up its days, and misses what runs through whole seasons; for "
    "risk, take ",
    Parameter("method", "resampled"),
    " first and this second.",
)


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
    steps = [
        number(float(end), "step", system) for end in (fitted.season.min(), fitted.season.max())
    ]
    texts = [
        f"Days of {units.spell(fitted.wet_day, 'rain', system)} of rain or more count as wet. Wet "
        f"and dry days follow a Markov chain of order {fitted.order} (Bayesian information "
        f"criterion above the least, by order {orders}; Katz 1981).",
        f"Rain of a wet day follows the {fitted.family} distribution (Akaike's criterion above "
        f"the least: {behind}); it misses the record's 99 % quantile by "
        f"{fitted.misses[fitted.family]:+.1f} standard errors.",
    ]
    if climate.wet_odds or climate.wet_amount or fitted.season.any():
        texts.append(
            "Seasons differ beyond what such a chain gives by itself: the logarithm of the odds of "
            f"rain by {climate.wet_odds:.2f}, that of rain a wet day by {climate.wet_amount:.2f}, "
            f"temperature by {steps[0]} to {steps[1]} {units.label('step', system)} (standard "
            "deviations, sized so that months and quarters vary between years as recorded)."
        )
    else:
        texts.append("No difference between seasons was added to what the chain gives by itself.")
    return texts


def held_sentences(held: Sequence[Held]) -> list[str]:
    """Name what differs beyond chance, and how much would by chance alone."""
    judged = [one for one in held if one.months]
    failing = [one for one in judged if one.fails]
    months = sum(one.months for one in judged)
    outside = sum(int(one.beyond.sum()) for one in judged)
    texts = [headline(held)]
    if failing:
        texts.append("Recorded beside generated: " + "; ".join(map(_direction, failing)) + ".")
    texts.append(
        f"Of {months} monthly values, {outside} lie outside the range of 95 in 100 generated "
        f"records; chance alone would put about {round(0.05 * months)} there, and have about "
        f"{plain_number(BY_CHANCE * len(judged), 0)} of {len(judged)} statistics said to differ."
    )
    return texts


def headline(held: Sequence[Held]) -> str:
    """Say the finding in a sentence."""
    judged = [one for one in held if one.months]
    failing = [one.statistic.label for one in judged if one.fails]
    if not failing:
        return f"The generator keeps all {len(judged)} statistics, within chance."
    # names have commas in them
    return (
        f"The generator differs from the record, beyond chance, in {len(failing)} of "
        f"{len(judged)} statistics: {'; '.join(failing)}."
    )


def _direction(one: Held) -> str:
    usable = ~np.isnan(one.generated)
    recorded, made = one.recorded[usable].mean(), one.generated[usable].mean()
    side = "larger" if recorded > made else "smaller"
    outside = int(one.beyond.sum())
    months = "month" if outside == 1 else "months"
    return f"{one.statistic.label} {side} as recorded ({outside} {months} outside)"


def places_heading(
    places: Places, fitted: FittedClimatology, years: int, seed: int, system: units.System
) -> str:
    """Say what was made of the fitted place."""
    count = len(places.names)
    warmer = [
        number(float(end), "step", system, sign=True)
        for end in (places.warmer.min(), places.warmer.max())
    ]
    return paragraph(
        f"{count:,} invented {'place' if count == 1 else 'places'} around {fitted.site}, {years} "
        f"falls each, seed {seed}: latitude {places.latitude.min():.1f} to "
        f"{places.latitude.max():.1f}, {warmer[0]} to {warmer[1]} {units.label('step', system)} "
        f"on average, {places.wetter.min():.2f} to {places.wetter.max():.2f} times its rain. The "
        "weather of each is drawn by itself: neighbours do not share storms."
    )
