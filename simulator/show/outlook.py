"""How the outlook of a season under way looks: tables and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.few_falls import band, wilson
from simulator.advice.outlook import Outlook
from simulator.advice.risk import FEW
from simulator.show.grids import place
from simulator.show.output import grid_rows
from simulator.show.tables import Column, number, paragraph, plain_number, table
from simulator.weather.record import season_day

if TYPE_CHECKING:
    import xarray as xr

LITTLE_SHIFT = 0.1  # of the usual, that is not worth calling more or less


def dataset(found: Outlook, target: float) -> xr.Dataset:
    """Lay the fan out as bands: one row for each date known to and each end.

    Parameters
    ----------
    found : Outlook
    target : float
        [kg/ha].

    Returns
    -------
    Dataset(as_of, end)
    """
    import xarray as xr

    biomass = found.fan["biomass_kg_ha"]
    values = biomass.transpose("as_of", "end", "other").values
    low, median, high = band(values)
    chance = (values >= target).mean(axis=-1)
    count = values.shape[-1]
    interval = np.array([[wilson(share, count) for share in row] for row in chance])
    usual_low, usual, usual_high = band(found.usual)
    columns = {
        "others": (np.full(low.shape, count), "1", "other falls whose remainders are used"),
        "biomass_low_kg_ha": (low, "kg/ha", "lower end of the band that holds 8 of 10 seasons"),
        "biomass_median_kg_ha": (median, "kg/ha", "biomass in the middle case"),
        "biomass_high_kg_ha": (high, "kg/ha", "upper end of the band"),
        "usual_low_kg_ha": (np.broadcast_to(usual_low, low.shape), "kg/ha",
                            "lower end of the band of the other falls as they were"),
        "usual_median_kg_ha": (np.broadcast_to(usual, low.shape), "kg/ha", "their middle case"),
        "usual_high_kg_ha": (np.broadcast_to(usual_high, low.shape), "kg/ha",
                             "upper end of their band"),
        "chance_percent": (100 * chance, "percent", "share that reaches the target"),
        "chance_low_percent": (100 * interval[..., 0], "percent",
                               "lower end of its 95 % Wilson interval"),
        "chance_high_percent": (100 * interval[..., 1], "percent", "upper end of it"),
    }  # fmt: skip
    return xr.Dataset(
        {name: (("as_of", "end"), values, {"units": unit, "long_name": meaning})
         for name, (values, unit, meaning) in columns.items()},
        coords={"as_of": biomass["as_of"], "end": biomass["end"]}, attrs=found.attrs,
    )  # fmt: skip


def more(found: Outlook) -> dict[str, Any]:
    """Return what the JSON object carries beside the bands: other falls one by one, hindcast."""
    now = found.fan.isel(as_of=-1, drop=True)
    told: dict[str, Any] = {"others": grid_rows(now)}
    if found.hindcast is not None:
        told["hindcast"] = grid_rows(found.hindcast)
    return told


def when(found: Outlook) -> str:
    """Name today with its year: ``"Jan 15, 2025"``."""
    day = season_day(found.known.year, found.known.today)
    return f"{wording.dates_in(found.known.today)}, {str(day)[:4]}"


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


def tables(found: Outlook, data: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Print the fan, how it came about, and the hindcast."""
    laid = [
        f"Biomass by end, as seen on {wording.dates_in(found.known.today)}:\n\n"
        + _fan(data.isel(as_of=-1), system, target)
    ]
    last = str(data["end"].values[-1])
    if data.sizes["as_of"] > 1:
        laid.append(f"Biomass {wording.ending(last)}, as it was seen while the days came in:\n\n"
                    + _history(data.sel(end=last), system, target))  # fmt: skip
    if found.hindcast is not None:
        laid.append(f"The same outlook tried on {len(found.others)} past seasons, for biomass "
                    f"{wording.ending(last)}:\n\n"
                    + _hindcast(found.hindcast.sel(end=last), system))  # fmt: skip
    laid.append(paragraph(_meaning(found)))
    return laid


def _span(low: float, high: float, system: units.System) -> str:
    return f"{number(low, 'mass', system)}-{number(high, 'mass', system)}"


def _columns(first: str, system: units.System, target: float) -> list[Column]:
    mass = units.label("mass", system)
    return [
        Column(first, left=True),
        Column("middle\ncase", mass),
        Column("8 of 10\nseasons", mass),
        Column(f"chance of\n{units.spell(target, 'mass', system)}", "%"),
    ]


def _cells(row: xr.Dataset, system: units.System) -> list[str]:
    chance = [float(row[f"chance{end}_percent"]) for end in ("", "_low", "_high")]
    return [
        number(float(row["biomass_median_kg_ha"]), "mass", system),
        _span(float(row["biomass_low_kg_ha"]), float(row["biomass_high_kg_ha"]), system),
        f"{chance[0]:.0f} ({chance[1]:.0f}-{chance[2]:.0f})",
    ]


def _fan(now: xr.Dataset, system: units.System, target: float) -> str:
    mass = units.label("mass", system)
    columns = [*_columns("ended", system, target), Column("usual\nmiddle", mass),
               Column("usual 8 of\n10 falls", mass)]  # fmt: skip
    rows = []
    for end in now["end"].values:
        row = now.sel(end=end)
        rows.append([
            wording.dates_in(str(end)), *_cells(row, system),
            number(float(row["usual_median_kg_ha"]), "mass", system),
            _span(float(row["usual_low_kg_ha"]), float(row["usual_high_kg_ha"]), system),
        ])  # fmt: skip
    return table(columns, rows)


def _history(of_end: xr.Dataset, system: units.System, target: float) -> str:
    rows = [
        [wording.dates_in(str(day)[5:]), *_cells(of_end.sel(as_of=day), system)]
        for day in of_end["as_of"].values
    ]
    return table(_columns("known to", system, target), rows)


def _hindcast(tried: xr.Dataset, system: units.System) -> str:
    mass = units.label("mass", system)
    columns = [
        Column("known to", left=True), Column("width of\nthe band", mass),
        Column("of the\nusual", "%"), Column("seasons\ninside", "%"), Column("error", mass),
        Column("less than\nthe usual", "%"),
    ]  # fmt: skip
    rows = []
    for day in tried["date"].values:
        row = {name: float(values) for name, values in tried.sel(date=day).data_vars.items()}
        rows.append([
            wording.dates_in(str(day)), number(row["width_kg_ha"], "mass", system),
            plain_number(100 * row["width_kg_ha"] / row["usual_width_kg_ha"]
                         if row["usual_width_kg_ha"] > 0 else float("nan")),
            f"{row['inside_percent']:.0f} ({row['inside_low_percent']:.0f}"
            f"-{row['inside_high_percent']:.0f})",
            number(row["crps_kg_ha"], "mass", system), plain_number(row["skill_percent"]),
        ])  # fmt: skip
    return table(columns, rows)


def _meaning(found: Outlook) -> str:
    told = (
        "Each of the other falls lends its weather from the day after the last one known, so "
        "that the band holds what this place's weather can still do; it does not hold what the "
        "model or the field may do otherwise. Chances have a 95 % Wilson interval in brackets. "
        "The usual is what the other falls made with their own weather throughout."
    )
    if found.hindcast is not None:
        told += (
            " In the trial no season lends weather to itself; bands are honest when 80 percent "
            "of seasons lie inside; the error is the continuous ranked probability score."
        )
    return told


def sentences(found: Outlook, data: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Say what the numbers mean, for the last end."""
    last = data.isel(end=-1)
    now = last.isel(as_of=-1)
    told = [_of_today(now, found, system), _of_usual(now, system),
            _of_chance(now, system, target), _of_narrowing(last, system)]  # fmt: skip
    if found.hindcast is not None:
        told.append(_of_hindcast(found.hindcast.isel(end=-1), found))
    return [text for text in told if text]


def from_to(low: float, high: float, system: units.System) -> str:
    """Spell a span of biomass: ``"4,530 to 5,624 lb/ac"``."""
    return f"{units.show(low, 'mass', system):,.0f} to {units.spell(high, 'mass', system)}"


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
    far = " and outside its usual range" if not (
        float(row["usual_low_kg_ha"]) <= now <= float(row["usual_high_kg_ha"])) else ""  # fmt: skip
    return (f"That is {units.spell(abs(gap), 'mass', system)} {side} than this place's usual, "
            f"{spelled}{far}.")  # fmt: skip


def _of_chance(row: xr.Dataset, system: units.System, target: float) -> str:
    count = int(row["others"])
    made = round(float(row["chance_percent"]) / 100 * count)
    few = f"; {count} falls say little" if count < FEW else ""
    return (f"{units.spell(target, 'mass', system)} is reached with the remainder of {made} of the "
            f"{count} other falls (interval {float(row['chance_low_percent']):.0f} to "
            f"{float(row['chance_high_percent']):.0f} percent){few}.")  # fmt: skip


def _of_narrowing(last: xr.Dataset, system: units.System) -> str:
    if last.sizes["as_of"] < 2:
        return ""
    widths = (last["biomass_high_kg_ha"] - last["biomass_low_kg_ha"]).values
    days = [wording.dates_in(str(day)[5:]) for day in last["as_of"].values]
    change = "narrowed" if widths[-1] < widths[0] else "widened"
    return (f"From {days[0]} to {days[-1]} the band has {change} from "
            f"{units.spell(widths[0], 'mass', system)} to "
            f"{units.spell(widths[-1], 'mass', system)}.")  # fmt: skip


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
    spoken = f"Tried on {row['seasons']:.0f} past seasons known to {wording.dates_in(day)}, " \
             f"{inside:.0f} percent came out inside their bands (interval {low:.0f} to " \
             f"{high:.0f}, 80 promised), which are {verdict}"  # fmt: skip
    if not np.isfinite(row["skill_percent"]):
        return f"{spoken}."
    skill = row["skill_percent"]
    side = "smaller" if skill >= 0 else "larger"
    return f"{spoken}; their error is {abs(skill):.0f} percent {side} than that of the usual."


def notes(found: Outlook) -> list[str]:
    """Say when the season is over in truth, and when there are few falls."""
    told = []
    if found.known.as_if:
        told.append(f"The weather goes on after {when(found)}; it is taken as not yet known. "
                    "--today and --year set another day.")  # fmt: skip
    if len(found.others) < FEW:
        told.append(f"{len(found.others)} other falls are few: the band is little more than their "
                    "range.")  # fmt: skip
    if found.hindcast is None:
        told.append("The outlook was not tried on past seasons.")
    return told
