"""The outlook in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.outlook import clipped_words
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped_data import weather_alone
from simulator.answers.outlook.table import from_to, when
from simulator.answers.shared.few_falls import FEW
from simulator.problems import Parameter, Text
from simulator.show import wording
from simulator.show.grids import place
from simulator.show.tables import paragraph
from simulator.weather.record import season_day

if TYPE_CHECKING:
    import xarray as xr

LITTLE_SHIFT = 0.1  # of the usual, that is not worth calling more or less


def heading(found: Outlook, system: units.System) -> str:
    """Say what stand it is, and up to when its weather is known."""
    about = found.attrs
    as_if = " (as if it were today)" if found.known.as_if else ""
    return paragraph(
        f"{str(about['cereal']).capitalize()} on {about['soil']} after {about['previous_crop']}, "
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
        first, *others = clipped_words.sentences(found.clipped, now, system, target)
        texts = [first, _of_usual(now, system), *others]
    else:
        texts = [
            _of_today(now, found, system),
            _of_usual(now, system),
            _of_chance(now, system, target),
        ]
    texts.append(_of_narrowing(weather_alone(last), system))
    if found.hindcast is not None:
        texts.append(_of_hindcast(found.hindcast.isel(end=-1), found))
        if found.clipped is not None:
            texts.append("That trial, too, is of the weather alone.")
    return [text for text in texts if text]


def _of_today(row: xr.Dataset, found: Outlook, system: units.System) -> str:
    low, median, high = (float(row[f"biomass_{part}_kg_ha"]) for part in ("low", "median", "high"))
    return (
        f"Known to {when(found)}, the stand makes {units.spell(median, 'mass', system)} "
        f"{wording.ending(str(row['end'].values))} in the middle case, and "
        f"{from_to(low, high, system)} in 8 of 10 seasons."
    )


def _of_usual(row: xr.Dataset, system: units.System) -> str:
    now, usual = float(row["biomass_median_kg_ha"]), float(row["usual_median_kg_ha"])
    gap = now - usual
    spelled = units.spell(usual, "mass", system)
    if abs(gap) <= LITTLE_SHIFT * usual:
        return f"That is about this place's usual, {spelled}."
    side = "more" if gap > 0 else "less"
    far = (
        " and outside its usual range"
        if not (float(row["usual_low_kg_ha"]) <= now <= float(row["usual_high_kg_ha"]))
        else ""
    )
    return (
        f"That is {units.spell(abs(gap), 'mass', system)} {side} than this place's usual, "
        f"{spelled}{far}."
    )


def _of_chance(row: xr.Dataset, system: units.System, target: float) -> str:
    count = int(row["others"])
    made = round(float(row["chance_percent"]) / 100 * count)
    few = f"; {count} falls say little" if count < FEW else ""
    return (
        f"{units.spell(target, 'mass', system)} is reached with the remainder of {made} of the "
        f"{count} other falls (interval {float(row['chance_low_percent']):.0f} to "
        f"{float(row['chance_high_percent']):.0f} percent){few}."
    )


def _of_narrowing(last: xr.Dataset, system: units.System) -> str:
    if last.sizes["as_of"] < 2:
        return ""
    widths = (last["biomass_high_kg_ha"] - last["biomass_low_kg_ha"]).values
    days = [wording.dates_in(str(day)[5:]) for day in last["as_of"].values]
    change = "narrowed" if widths[-1] < widths[0] else "widened"
    return (
        f"From {days[0]} to {days[-1]} the band has {change} from "
        f"{units.spell(widths[0], 'mass', system)} to "
        f"{units.spell(widths[-1], 'mass', system)}."
    )


def _of_hindcast(tried: xr.Dataset, found: Outlook) -> str:
    """Speak of the date tried that is nearest to today and not after it, else of the first."""
    days = [str(day) for day in tried["date"].values]
    now = season_day(found.known.year, found.known.today)
    before = [day for day in days if season_day(found.known.year, day) <= now]
    day = before[-1] if before else days[0]
    row = {name: float(values) for name, values in tried.sel(date=day).data_vars.items()}
    inside, low, high = (row[f"inside{part}_percent"] for part in ("", "_low", "_high"))
    if high < 80:
        verdict = "too narrow: trust them less"
    elif low > 80:
        verdict = "wider than they need to be"
    else:
        verdict = "honest as far as so few seasons can tell"
    spoken = (
        f"Tried on {row['seasons']:.0f} past seasons known to {wording.dates_in(day)}, "
        f"{inside:.0f} percent came out inside their bands (interval {low:.0f} to "
        f"{high:.0f}, 80 promised), which are {verdict}"
    )
    if not np.isfinite(row["skill_percent"]):
        return f"{spoken}."
    skill = row["skill_percent"]
    side = "smaller" if skill >= 0 else "larger"
    return f"{spoken}; their error is {abs(skill):.0f} percent {side} than that of the usual."


def notes(found: Outlook) -> list[str]:
    """Say when the season is over in truth, and when there are few falls."""
    texts: list[str] = [] if found.clipped is None else clipped_words.notes(found.clipped)
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
