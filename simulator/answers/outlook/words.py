"""The outlook in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.outlook import clipped_words
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped_data import without_measured
from simulator.answers.outlook.table import from_to, when
from simulator.answers.shared.few_falls import FEW
from simulator.answers.shared.field_ranges import difference_ranges, gain_ranges, how_far_off
from simulator.problems import Parameter, Text
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import paragraph
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr

LITTLE_SHIFT = 0.1  # of the usual, that is not worth calling more or less


def heading(found: Outlook, system: units.System) -> str:
    """Say what stand it is, and up to when its weather is known."""
    about = found.attrs
    as_if = " (as if it were today)" if found.known.as_if else ""
    return paragraph(
        f"{wording.stand(about).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}; sown {wording.dates_in(about['sow'])}, {found.known.year} at "
        f"{units.spell(about['seeding_kg_ha'], 'mass', system)} with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}. Weather known up to {when(found)}{as_if}; "
        f"from then on that of {wording.falls(found.others)}."
    )


def sentences(found: Outlook, data: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Say what the numbers mean, for the last end."""
    last = data.isel(end=-1)
    now = last.isel(as_of=-1)
    if found.clipped is not None:
        texts = clipped_words.sentences(found.clipped, now, system, target)
    else:
        texts = [
            _of_today(now, found, system),
            _of_usual(now, found, system),
            _of_chance(now, system, target),
        ]
    texts.append(how_far_off(system, found.errors.level))
    texts.append(_of_narrowing(without_measured(last), system))
    if found.hindcast is not None:
        texts.append(_of_hindcast(found.hindcast.isel(end=-1), found))
    return [text for text in texts if text]


def _of_today(row: xr.Dataset, found: Outlook, system: units.System) -> str:
    low, median, high, weather_low, weather_high = (
        float(row[f"{name}_kg_ha"])
        for name in ("biomass_low", "biomass_median", "biomass_high", "weather_low", "weather_high")
    )
    return (
        f"Known to {when(found)}, the stand makes {units.spell(median, 'biomass', system)} "
        f"{wording.ending(str(row['end'].values))} in the middle case, and "
        f"{from_to(low, high, system)} in 8 of 10, weather and field together; by weather "
        f"alone {from_to(weather_low, weather_high, system)}."
    )


def _of_usual(row: xr.Dataset, found: Outlook, system: units.System) -> str:
    """Set it beside the other falls as they were: two weathers of one field, fall by fall."""
    usual = float(row["usual_median_kg_ha"])
    now = found.fan["biomass_kg_ha"].isel(as_of=-1, end=-1).values
    gap = float(row["weather_median_kg_ha"]) - usual
    spelled = units.spell(usual, "biomass", system)
    if abs(gap) <= LITTLE_SHIFT * usual:
        return f"That is about this place's usual, {spelled}."
    side = "more" if gap > 0 else "less"
    far = (
        " and outside its usual range"
        if not (float(row["usual_low_kg_ha"]) <= usual + gap <= float(row["usual_high_kg_ha"]))
        else ""
    )
    texts = (
        f"As simulated it is {units.spell(abs(gap), 'biomass', system)} {side} than this place's "
        f"usual, {spelled}{far}"
    )
    if difference_ranges(now - found.usual[-1], found.errors.response).is_clear:
        return f"{texts}."
    return (
        f"{texts}; whether a field like these will make {side} than its usual cannot be told, "
        "for the weather to come and the model's error in such differences may outweigh it."
    )


def _of_chance(row: xr.Dataset, system: units.System, target: float) -> str:
    count = int(row["others"])
    made = round(float(row["weather_chance_percent"]) / 100 * count)
    few = f"; {count} falls say little" if count < FEW else ""
    return (
        f"The chance of {units.spell(target, 'biomass', system)} is "
        f"{float(row['chance_percent']):.0f} percent in a field like these; by weather alone it is "
        f"reached with the rest of the season as in {made} of the "
        f"{count} other falls (interval {float(row['weather_chance_low_percent']):.0f} to "
        f"{float(row['weather_chance_high_percent']):.0f} percent){few}."
    )


def _of_narrowing(last: xr.Dataset, system: units.System) -> str:
    if last.sizes["as_of"] < 2:
        return ""
    by_weather, together = (
        (last[f"{of}_high_kg_ha"] - last[f"{of}_low_kg_ha"]).values for of in ("weather", "biomass")
    )
    days = [wording.dates_in(str(day)[5:]) for day in last["as_of"].values]
    change = "narrowed" if by_weather[-1] < by_weather[0] else "widened"
    spelled = [
        units.spell(width, "biomass", system)
        for width in (by_weather[0], by_weather[-1], together[0], together[-1])
    ]
    return (
        f"From {days[0]} to {days[-1]} the band by weather alone has {change} from {spelled[0]} "
        f"to {spelled[1]}; that of weather and field went from {spelled[2]} to {spelled[3]}."
    )


def _of_hindcast(tried: xr.Dataset, found: Outlook) -> str:
    """Speak of the date tried that is nearest to today and not after it, else of the first."""
    days = [str(day) for day in tried["date"].values]
    now = season_day(found.known.year, found.known.today)
    before = [day for day in days if season_day(found.known.year, day) <= now]
    day = before[-1] if before else days[0]
    row = {name: float(values) for name, values in tried.sel(date=day).data_vars.items()}
    inside, low, high = (row[f"inside{suffix}_percent"] for suffix in ("", "_low", "_high"))
    if high < 80:
        verdict = "fewer than promised: the bands are too narrow, trust them less"
    elif low > 80:
        verdict = "more than promised: the bands are wider than they need to be"
    else:
        verdict = "which agrees with what was promised"
    spoken = (
        f"Of the weather only: tried on {row['seasons']:.0f} past seasons known to "
        f"{wording.dates_in(day)}, {inside:.0f} percent came out inside their bands by weather "
        f"alone (interval {low:.0f} to {high:.0f}, 80 promised), {verdict}"
    )
    if not np.isfinite(row["skill_percent"]):
        return f"{spoken}."
    skill = row["skill_percent"]
    side = "smaller" if skill >= 0 else "larger"
    return f"{spoken}. Their error is {abs(skill):.0f} percent {side} than that of the usual."


def today_is() -> np.datetime64:
    """Return the day on which it is asked."""
    return np.datetime64("today", "D")


def of_age(found: Outlook, today: np.datetime64, system: units.System) -> str:
    """Say how old the weather is, and what the days since then could have brought.

    Parameters
    ----------
    found : Outlook
    today : datetime64[D]
        The day on which it is asked.
    system : {"us", "si"}
    """
    known = season_day(found.known.year, found.known.today)
    age = int((today - known).astype(int))
    if found.known.as_if or age < 1:
        return ""
    days = found.paths["time"].values.astype("datetime64[D]")
    texts = f"The weather ends on {when(found)}, {age:,} day{'s' if age > 1 else ''} ago"
    if today >= days[-1]:
        return f"{texts}: the last end is past, and a longer file would say what came of it."
    grown = found.paths["biomass_kg_ha"].transpose("time", "other").values
    since = (days - known).astype(float)
    at = np.array([np.interp(float(age), since, of_other) for of_other in grown.T])
    # on the day itself all others are one; the first day of the paths may come later
    sown = np.array([np.interp(0.0, since, of_other) for of_other in grown.T])
    gained = gain_ranges(at - sown, age, found.errors.gain)
    by_weather = from_to(max(gained.weather_low, 0.0), max(gained.weather_high, 0.0), system)
    return (
        f"{texts}; since then the stand may have gained {by_weather} by the weather of the other "
        f"falls, in a field like these up to "
        f"{units.spell(max(gained.high, 0.0), 'biomass', system)}, "
        "which a longer file would tell more narrowly."
    )


def notes(found: Outlook, system: units.System) -> list[str]:
    """Say when the season is over in truth, and when there are few falls."""
    texts: list[str] = [] if found.clipped is None else clipped_words.notes(found.clipped, system)
    if found.known.as_if:
        texts.append(
            Text(
                f"The weather goes on after {when(found)}; it is taken as not yet known. ",
                Parameter("today"),
                " and ",
                Parameter("year"),
                " set another day.",
            )
        )
    if len(found.others) < FEW:
        texts.append(
            f"{len(found.others)} other falls are few: the band is little more than their range."
        )
    if found.hindcast is None:
        texts.append("The outlook was not tried on past seasons.")
    return texts
