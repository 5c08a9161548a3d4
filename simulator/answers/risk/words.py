"""The risk of plans in sentences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.risk import bare_soil
from simulator.answers.risk.calculate import Risk
from simulator.answers.risk.chance import ALL, FORECAST, NITRATE_LIMIT
from simulator.answers.risk.data import OUTER
from simulator.answers.shared.few_falls import FEW, FEWEST, effective_number
from simulator.answers.shared.field_ranges import how_far_off
from simulator.answers.shared.usual_rate import nearest
from simulator.show import grids, wording
from simulator.show.tables import paragraph
from simulator.weather.year_types import WAYS

if TYPE_CHECKING:
    import xarray as xr

LITTLE_LOSS = 1.0  # percent a week that is not worth a number


def with_distinct_names(found: Sequence[Risk]) -> list[Risk]:
    """Give places of one name a number each."""
    times = Counter(one.site for one in found)
    seen: Counter[str] = Counter()
    named = []
    for one in found:
        seen[one.site] += 1
        number_ = f" {seen[one.site]}" if times[one.site] > 1 else ""
        named.append(replace(one, site=one.site + number_) if number_ else one)
    return named


def heading(one: Risk, system: units.System) -> str:
    """Say what is asked at a place."""
    said = grids.heading(one.grid.attrs, one.grid["year"].values.tolist())
    return f"{said}\n" + paragraph(f"Target: {units.spell(one.target, 'biomass', system)}.")


def surely(often: float) -> str:
    """Say how surely a sowing is to reach the target: ``"with a chance of 80 percent"``."""
    return f"with a chance of {100 * often:g} percent"


def ordinary(one: Risk) -> float:
    """Return the nitrogen rate that sentences speak of: the one nearest 60 lb/ac."""
    return nearest(one.table["nitrogen"].values.tolist())


def sentences(one: Risk, system: units.System) -> list[str]:
    """Say what a place's numbers mean, for the ordinary rate and the first of other choices."""
    rate = ordinary(one)
    risks = one.table.sel(nitrogen=rate).isel(dict.fromkeys(OUTER, 0))
    with_n = f"With {units.spell(rate, 'nitrogen', system)} of nitrogen"
    texts = [
        _of_sowings(risks.sel(kind=ALL), one, with_n, system),
        how_far_off(system, one.errors.level),
        _of_latest(risks, one, with_n),
    ]
    texts += [_of_kinds(risks, one), _of_nitrate(risks.sel(kind=ALL), with_n, system)]
    texts += [*bare_soil.sentences(one, rate, system), *one.headed]
    return [text for text in texts if text]


def _of_sowings(risks: xr.Dataset, one: Risk, with_n: str, system: units.System) -> str:
    texts: dict[str, list[str]] = {}
    dates_by_count: dict[str, list[str]] = {}
    for sow in risks["sow"].values:
        row = risks.sel(sow=sow)
        if not np.isfinite(row["chance_percent"]):
            continue
        date = wording.dates_in(str(sow))
        texts.setdefault(f"{float(row['chance_percent']):.0f} percent", []).append(date)
        falls, share = float(row["falls"]), float(row["weather_chance_percent"]) / 100
        low, high = (float(row[f"weather_chance_{end}_percent"]) for end in ("low", "high"))
        text = (
            f"{share * falls:.0f} of {falls:.0f} falls{{}} ({100 * share:.0f} percent, "
            f"interval {low:.0f} to {high:.0f})"
        )
        dates_by_count.setdefault(text, []).append(date)
    if not texts:
        return ""
    chances = wording.join(
        [f"{text} sown on {wording.join(sowings)}" for text, sowings in texts.items()]
    )
    made = wording.join(
        [text.format(f" sown on {wording.join(dates)}") for text, dates in dates_by_count.items()]
    )
    falls = int(risks["falls"].max())
    few = f" {falls} falls say little." if falls < FEW else ""
    target = units.spell(one.target, "biomass", system)
    return (
        f"{with_n}, the chance of {target} in a field like these is {chances}. By weather alone "
        f"it is reached in {made}.{few}"
    )


def _of_latest(risks: xr.Dataset, one: Risk, with_n: str) -> str:
    if one.sought is None:
        return ""
    row = risks.isel(sow=0).sel(kind=ALL)
    latest, first, last = str(row["latest_sowing"].values), *one.sought
    reaches = f"reaches it {surely(one.often)} in a field like these"
    if not latest:
        span = f"{wording.dates_in(first)} to {wording.dates_in(last)}"
        best = wording.dates_in(str(row["best_sowing"].values))
        texts = (
            f"{with_n}, no sowing from {span} {reaches}; the best chance is "
            f"{float(row['best_chance_percent']):.0f} percent, sown about {best}."
        )
    elif latest == last:
        texts = (
            f"{with_n}, even the last sowing tried, {wording.dates_in(last)}, {reaches}"
            f"{_of_loss(float(row['latest_loss_percent']))}."
        )
    else:
        texts = (
            f"{with_n}, {wording.dates_in(latest)} is the latest sowing that {reaches}"
            f"{_of_loss(float(row['latest_loss_percent']))}."
        )
    return f"{texts} {_of_weather(str(row['weather_latest_sowing'].values), last)}"


def _of_loss(loss: float) -> str:
    """Say how fast the chance falls about the latest sowing."""
    if not np.isfinite(loss):
        return ""
    if loss < -LITTLE_LOSS:
        return f"; about then each week of delay still adds {-loss:.0f} points to the chance"
    if loss < LITTLE_LOSS:
        return "; about then a week sooner or later hardly changes the chance"
    return f"; about then each week of delay takes {loss:.0f} percent off the chance"


def _of_weather(latest: str, last: str) -> str:
    """Say which sowing would be the latest by weather alone."""
    if not latest:
        return "By weather alone there is none either."
    if latest == last:
        return f"By weather alone even {wording.dates_in(last)} does."
    return f"By weather alone the latest is {wording.dates_in(latest)}."


def _of_kinds(risks: xr.Dataset, one: Risk) -> str:
    kinds = [kind for kind in one.groups if kind not in (ALL, FORECAST)]
    row = risks.isel(sow=0)
    known = [k for k in kinds if np.isfinite(row["chance_percent"].sel(kind=k))]
    if len(known) < 2:
        return ""
    ranked = sorted(known, key=lambda k: float(row["chance_percent"].sel(kind=k)))
    worst, best = row.sel(kind=ranked[0]), row.sel(kind=ranked[-1])
    gap = float(best["chance_percent"] - worst["chance_percent"])
    sown = wording.dates_in(str(row["sow"].values))
    if gap < 1.0:
        return f"Sown on {sown}, the kind of year makes no difference to that chance."
    overlap = float(worst["weather_chance_high_percent"]) >= float(
        best["weather_chance_low_percent"]
    )
    doubt = (
        "; the intervals of so few falls overlap, so that it may be luck"
        if overlap
        else "; the intervals of the falls lie apart"
    )
    said = (
        f"Sown on {sown}, {ranked[-1]} years reach it most often, "
        f"{float(best['chance_percent']):.0f} percent, and {ranked[0]} years least, "
        f"{float(worst['chance_percent']):.0f} percent{doubt}."
    )
    if FORECAST in one.groups and np.isfinite(row["chance_percent"].sel(kind=FORECAST)):
        weighed, plain = (float(row["chance_percent"].sel(kind=k)) for k in (FORECAST, ALL))
        said += f" The forecast makes that {weighed:.0f} percent in place of {plain:.0f}."
    return said


def _of_nitrate(risks: xr.Dataset, with_n: str, system: units.System) -> str:
    strength = risks["nitrate_concentration_mg_l"]
    if not np.isfinite(strength).any():
        return f"{with_n}, nothing drains."
    low, high = float(strength.min()), float(strength.max())
    sow = str(risks["sow"].values[int(np.nanargmin(strength.values))])
    side = (
        "below"
        if high <= NITRATE_LIMIT
        else "above"
        if low > NITRATE_LIMIT
        else "on either side of"
    )
    span = f"{low:.0f} to {high:.0f}" if round(low) != round(high) else f"{low:.0f}"
    lost = units.spell(float(risks["nitrate_leached_kg_ha"].sel(sow=sow)), "nitrogen", system)
    return (
        f"{with_n}, drainage carries {span} mg/L of nitrate nitrogen, {side} the limit for "
        f"drinking water ({NITRATE_LIMIT:g}), least sown on {wording.dates_in(sow)}, when "
        f"{lost} leach; on its way to a well it is diluted and denitrified."
    )


def notes(one: Risk, kinds: str | None = None) -> list[str]:
    """Say where there are too few falls, and where kinds of real years meet invented ones."""
    texts = []
    if kinds and kinds not in WAYS and one.grid.attrs.get("invented") == "yes":
        texts.append(f"The falls of {one.site} are invented: kinds of real years do not fit them.")
    count = round(one.worth * one.grid.sizes["year"])
    if one.recorded is not None:
        texts.append(
            f"{one.grid.sizes['year']:,} falls were generated from {one.recorded} recorded "
            "ones; more of them add no knowledge, and the intervals are those of "
            f"{count} falls."
        )
    if count < FEW:
        texts.append(f"{count} falls are few: their chances say little, and 30 are usual.")
    short = [
        f"{kind} ({one.worth * weights.sum():.0f})"
        for kind, weights in one.groups.items()
        if kind not in (ALL, FORECAST) and one.worth * weights.sum() < FEWEST
    ]
    if short:
        texts.append(
            f"A chance needs at least {FEWEST} falls, and these kinds have fewer: "
            f"{', '.join(short)}."
        )
    if FORECAST in one.groups:
        effective = one.worth * effective_number(one.groups[FORECAST])
        if effective < FEWEST:
            texts.append(
                f"The forecast rests on {effective:.1f} effective falls and gets no "
                f"chance; {FEWEST} are needed."
            )
    return texts
