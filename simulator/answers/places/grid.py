"""A grid of many places for people: means over falls of a few plans, place by place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.answers.places import risk as places
from simulator.answers.shared.usual_rate import nearest
from simulator.problems import shown_path
from simulator.season.grid.batch import INVENTED
from simulator.show import wording
from simulator.show.output import plain
from simulator.show.tables import Column, number, paragraph, plain_number, table

if TYPE_CHECKING:
    import xarray as xr

BIOMASS, LEACHED = "biomass_kg_ha", "nitrate_leached_kg_ha"
MOST_SOWINGS = 4  # side by side
LOWEST_SHOWN, HIGHEST_SHOWN = 20, 10  # places of a long table
_LONGEST = 24  # characters of a name in the table
_OUTER = ("seeding", "nitrogen_timing", "end")
Row = dict[str, Any]


def summary(grid: xr.Dataset) -> xr.Dataset:
    """Return the means over falls of a few plans at each place.

    Parameters
    ----------
    grid : Dataset(site, year, sow, seeding, nitrogen, nitrogen_timing, end)
        From `simulator.season.grid.open_grid`.

    Returns
    -------
    Dataset(site, sow)
        The grid's fields, for up to `MOST_SOWINGS` sowings, the nitrogen rate nearest 60 lb/ac and
        the first of every other choice; ``falls`` that they are means of; ``latitude, longitude``
        [degrees] and ``soil``. The attributes ``seeding_kg_ha, nitrogen_kg_ha,
        nitrogen_timing, end`` say which.
    """
    rates = grid["nitrogen"].values.tolist()
    rate = rates.index(nearest(rates))
    chosen = {"sow": slice(MOST_SOWINGS), "nitrogen": rate, **dict.fromkeys(_OUTER, 0)}
    few = grid.isel(chosen).drop_vars(["left_out", "notes"]).load()
    first = str(next(iter(few.data_vars)))
    found = few.mean("year", keep_attrs=True)
    found["falls"] = few[first].notnull().sum("year")
    for name in ("latitude", "longitude", "soil"):
        along = few[name].reset_coords(drop=True)
        found = found.drop_vars(name).assign({name: along.broadcast_like(found["falls"])})
    found.attrs = {
        **{name: value for name, value in grid.attrs.items() if name != "soil"},
        "seeding_kg_ha": float(few["seeding"]),
        "nitrogen_kg_ha": float(few["nitrogen"]),
        "nitrogen_timing": str(few["nitrogen_timing"].values),
        "end": str(few["end"].values),
    }
    return found.drop_vars(["seeding", "nitrogen", "nitrogen_timing", "end"])


def heading(grid: xr.Dataset) -> str:
    """Say what was grown where."""
    soils = {str(soil) for soil in grid["soil"].values}
    on = f"on {min(soils)}" if len(soils) == 1 else "on soils of their own"
    return paragraph(
        f"{str(grid.attrs['cereal']).capitalize()} {on} after {grid.attrs['previous_crop']}, at "
        f"{grid.sizes['site']:,} places; {wording.falls(grid['year'].values.tolist())}."
    )


def tables(few: xr.Dataset, system: units.System) -> list[str]:
    """Print places from the lowest biomass up, of a long list its two ends.

    Parameters
    ----------
    few : Dataset
        From `summary`.
    system : {"us", "si"}

    Returns
    -------
    list of str
        None where biomass was not kept.
    """
    if BIOMASS not in few:
        return []
    about = few.attrs
    soils = len(set(few["soil"].values.flat)) > 1
    leached = LEACHED in few
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("place", left=True),
        Column("north", "°"),
        Column("east", "°"),
        *[Column("soil", left=True)] * soils,
        Column("falls"),
        *(Column(f"sown\n{wording.dates_in(str(sow))}", mass) for sow in few["sow"].values),
        *[Column("N\nleached", nitrogen)] * leached,
    ]
    order = ranked(few)
    rows = [_cells(few.isel(site=at), system, soils, leached) for at in order]
    between = len(rows) - LOWEST_SHOWN - HIGHEST_SHOWN
    if between > 1:
        gap = [f"... {between:,} between", *[""] * (len(columns) - 1)]
        rows = [*rows[:LOWEST_SHOWN], gap, *rows[-HIGHEST_SHOWN:]]
    rate = units.spell(about["nitrogen_kg_ha"], "nitrogen", system)
    title = (
        f"Mean biomass over falls, seeded at "
        f"{units.spell(about['seeding_kg_ha'], 'mass', system)}, {rate} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}, "
        "places from the lowest up:"
    )
    meaning = "Biomass is dry matter of shoots" + (
        "; N leached is nitrate nitrogen leached below the soil column since September, of the "
        "first sowing."
        if leached
        else "."
    )
    return [f"{paragraph(title)}\n\n{table(columns, rows)}", paragraph(meaning)]


def ranked(few: xr.Dataset) -> list[int]:
    """Sort places by the biomass of the first sowing, those without any last."""
    biomass = few[BIOMASS].isel(sow=0).values
    return [
        int(at) for at in np.argsort(np.where(np.isfinite(biomass), biomass, np.inf), kind="stable")
    ]


def _cells(one: xr.Dataset, system: units.System, soils: bool, leached: bool) -> list[str]:
    name = str(one["site"].values)
    first = one.isel(sow=0)
    return [
        name if len(name) <= _LONGEST else f"{name[: _LONGEST - 3]}...",
        *(plain_number(float(first[axis]), 2) for axis in ("latitude", "longitude")),
        *[str(first["soil"].values)] * soils,
        str(int(first["falls"])),
        *(number(value, "biomass", system) for value in one[BIOMASS].values),
        *[number(float(first[LEACHED]), "nitrogen", system) if leached else ""] * leached,
    ]


def sentences(few: xr.Dataset, system: units.System) -> list[str]:
    """Say how mean biomass differs over the places."""
    if BIOMASS not in few:
        return []
    known = few.isel(site=[at for at in ranked(few) if int(few["falls"][at, 0])], sow=0)
    biomass = known[BIOMASS].values
    sown = (
        f"Sown on {wording.dates_in(str(known['sow'].values))} with "
        f"{units.spell(few.attrs['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen, mean "
        "biomass"
    )
    low, middle, high = (
        units.spell(float(value), "biomass", system)
        for value in (biomass[0], np.median(biomass), biomass[-1])
    )
    if low == high:
        return [f"{sown} is {low} at every place."]
    first, *_, last = known["site"].values
    return [
        f"{sown} runs from {low} at {first} to {high} at {last}; the median over "
        f"{biomass.size:,} places is {middle}."
    ]


def left_out(grid: xr.Dataset) -> tuple[list[str], list[str]]:
    """Say which places have no season at all and why, and how many lack some.

    Returns
    -------
    list of str
        A place that was left out each, with its reason.
    list of str
        Notes.
    """
    first = str(next(iter(grid.data_vars)))
    others = [name for name in grid[first].dims if name != "site"]
    empty = grid[first].isnull().all(others).values
    reasons = dict(zip(grid["site"].values, grid["left_out"].values, strict=True))
    whole = [f"{site}: {reasons[site]}" for site in grid["site"].values[empty]]
    partly = sum(bool(text) for text in grid["left_out"].values[~empty])
    lack = f"{partly:,} places lack" if partly > 1 else "1 place lacks"
    return whole, [f"{lack} some falls; left_out in the store says which and why."] * bool(partly)


def invented(grid: xr.Dataset) -> list[str]:
    """Say how many places do not exist."""
    count = sum(str(text).startswith(INVENTED) for text in grid["notes"].values)
    return places.invented(count, grid.sizes["site"])


def rows(few: xr.Dataset) -> list[Row]:
    """Return a row for each place, for a map: the means of the first sowing, SI."""
    first = few.isel(sow=0)
    names = [
        "falls",
        *(
            name
            for name in map(str, few.data_vars)
            if name not in ("falls", "latitude", "longitude", "soil")
        ),
    ]
    return [
        {
            "site": str(one["site"].values),
            **{axis: plain(one[axis].values[()]) for axis in ("latitude", "longitude")},
            "soil": str(one["soil"].values),
            "sow": str(one["sow"].values),
            **{
                name: few.attrs[name]
                for name in ("seeding_kg_ha", "nitrogen_kg_ha", "nitrogen_timing", "end")
            },
            **{name: plain(one[name].values[()]) for name in names},
        }
        for one in (first.isel(site=at) for at in range(first.sizes["site"]))
    ]


def kept_at(grid: xr.Dataset, path: Path, size: int) -> str:
    """Say where the whole grid is, how many seasons it has, and its bytes on disk."""
    first = grid[next(iter(grid.data_vars))]
    seasons = first.size // grid.sizes["end"]
    held = f"{size / 1e9:.1f} GB" if size >= 1e9 else f"{max(size / 1e6, 0.1):.1f} MB"
    return (
        f"All {seasons:,} seasons are in {shown_path(str(path))} ({held}): "
        f"{', '.join(map(str, grid.data_vars))}."
    )
