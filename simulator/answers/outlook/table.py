"""The outlook as tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator import units
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped_data import without_measured
from simulator.answers.shared.field_ranges import Ranges, range_cells, range_columns
from simulator.show import wording
from simulator.show.tables import Column, number, paragraph, plain_number, span, table
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr


def when(found: Outlook) -> str:
    """Name today with its year: ``"Jan 15, 2025"``."""
    return wording.day_in(season_day(found.known.year, found.known.today))


def tables(found: Outlook, data: xr.Dataset, system: units.System, target: float) -> list[str]:
    """Print the fan, how it came about, and the hindcast."""
    laid = [
        f"Biomass by end, as seen on {wording.dates_in(found.known.today)}:\n\n"
        + _fan(data.isel(as_of=-1), system, target)
    ]
    if found.clipped is not None:
        laid[0] = laid[0].replace(", as seen", ", with what was measured, as seen", 1)
        data = without_measured(data)
        laid.append("Without what was measured:\n\n" + _fan(data.isel(as_of=-1), system, target))
    last = str(data["end"].values[-1])
    if data.sizes["as_of"] > 1:
        laid.append(
            f"Biomass {wording.ending(last)}, as it was seen while the days came in:\n\n"
            + _history(data.sel(end=last), system, target)
        )
    if found.hindcast is not None:
        title = paragraph(
            f"The weather's part tried on {len(found.others)} past seasons, for biomass "
            f"{wording.ending(last)} (the field's error is not tried here):"
        )
        laid.append(f"{title}\n\n{_hindcast(found.hindcast.sel(end=last), system)}")
    laid.append(paragraph(_meaning(found)))
    return laid


def _span(low: float, high: float, system: units.System) -> str:
    return span((low, high), "biomass", system)


def _columns(first: str, system: units.System, target: float) -> list[Column]:
    mass = units.label("mass", system)
    spelled = units.spell(target, "biomass", system)
    return [
        Column(first, left=True),
        Column("middle\ncase", mass),
        *range_columns(mass),
        Column(f"chance of\n{spelled}", "%"),
        Column("share of\nthe falls", "%"),
    ]


def _cells(row: xr.Dataset, system: units.System) -> list[str]:
    share = [float(row[f"weather_chance{end}_percent"]) for end in ("", "_low", "_high")]
    ends = {
        of: [float(row[f"{of}_{end}_kg_ha"]) for end in ("low", "high")]
        for of in ("biomass", "weather")
    }
    return [
        number(float(row["biomass_median_kg_ha"]), "biomass", system),
        *range_cells(Ranges(*ends["biomass"], *ends["weather"]), "biomass", system),
        f"{float(row['chance_percent']):.0f}",
        f"{share[0]:.0f} ({share[1]:.0f}-{share[2]:.0f})",
    ]


def _fan(now: xr.Dataset, system: units.System, target: float) -> str:
    mass = units.label("mass", system)
    columns = [
        *_columns("ended", system, target),
        Column("usual\nmiddle", mass),
        Column("usual 8 of\n10 falls", mass),
    ]
    rows = []
    for end in now["end"].values:
        row = now.sel(end=end)
        rows.append(
            [
                wording.dates_in(str(end)),
                *_cells(row, system),
                number(float(row["usual_median_kg_ha"]), "biomass", system),
                _span(float(row["usual_low_kg_ha"]), float(row["usual_high_kg_ha"]), system),
            ]
        )
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
        Column("known to", left=True),
        Column("width of\nthe band", mass),
        Column("of the\nusual", "%"),
        Column("seasons\ninside", "%"),
        Column("error", mass),
        Column("less than\nthe usual", "%"),
    ]
    rows = []
    for day in tried["date"].values:
        row = {name: float(values) for name, values in tried.sel(date=day).data_vars.items()}
        rows.append(
            [
                wording.dates_in(str(day)),
                number(row["width_kg_ha"], "biomass", system),
                plain_number(
                    100 * row["width_kg_ha"] / row["usual_width_kg_ha"]
                    if row["usual_width_kg_ha"] > 0
                    else float("nan")
                ),
                f"{row['inside_percent']:.0f} ({row['inside_low_percent']:.0f}"
                f"-{row['inside_high_percent']:.0f})",
                number(row["crps_kg_ha"], "biomass", system),
                plain_number(row["skill_percent"]),
            ]
        )
    return table(columns, rows)


def _meaning(found: Outlook) -> str:
    texts = (
        "Each of the other falls lends its weather from the day after the last one known: the "
        "range over the falls holds what this place's weather can still do. The range in a field "
        "like these, the middle case and the chance also hold how far off the model has been in "
        "fields that it had not seen. The share of the falls has a 95 % Wilson interval in "
        "brackets. The usual is what the other falls made with their own weather throughout, as "
        "simulated."
    )
    if found.clipped is not None:
        texts += (
            " With what was measured, the first table also holds its error and fields drawn and "
            "weighed by it, and after a clipping how far stands' gains were off in trials."
        )
    if found.hindcast is not None:
        texts += (
            " In the trial no season lends weather to itself; bands hold what they promise when 80 "
            "percent of seasons lie inside; the error is the continuous ranked probability score."
        )
    return texts


def from_to(low: float, high: float, system: units.System) -> str:
    """Spell a span of biomass: ``"4,530 to 5,620 lb/ac"``."""
    return f"{units.spell(low, 'biomass', system).split(' ')[0]} to " + units.spell(
        high, "biomass", system
    )
