"""Grids of many seasons as tables: plans compared, and weather as recorded beside changed."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.whatif import CHANGED, RECORDED, effects, paired
from simulator.show.tables import (
    Column,
    difference,
    mean,
    number,
    over_falls,
    paragraph,
    plain_number,
    spread_meaning,
    table,
)

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray


def place(about: dict[str, Any]) -> str:
    """Name a place, its latitude, and that it is invented where it is."""
    named = str(about["site"])
    if about.get("invented") == "yes":
        named += " (an invented place)"
    latitude = about.get("latitude")
    if latitude is not None and np.isfinite(float(latitude)):
        named += f", {float(latitude):g} degrees north"
    return named


def heading(about: dict[str, Any], years: list[int]) -> str:
    """Say what was grown where: the first paragraph of a grid's answer."""
    return paragraph(
        f"{str(about['cereal']).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}; {wording.falls(years)}."
    )


def rates_title(plan: dict[str, Any], system: units.System) -> str:
    """Name what a table holds fixed: ``"Seeded at 90 lb/ac, nitrogen at sowing, ended ..."``."""
    return (
        f"Seeded at {units.spell(plan['seeding'], 'mass', system)}, nitrogen "
        f"{wording.timing(plan['nitrogen_timing'])}, ended {wording.ending(plan['end'])}"
    )


def whatif_tables(grid: xr.Dataset, system: units.System) -> str:
    """Print sowing dates x nitrogen rates, as recorded beside changed.

    Parameters
    ----------
    grid : Dataset
        From `compare` with changes.
    system : {"us", "si"}

    Returns
    -------
    str
        Two tables for each seeding rate, timing and end: biomass and leaching; what the
        nitrogen brought and lost.
    """
    laid = []
    shown = paired(grid)
    for plan in _plans(grid, ("seeding", "nitrogen_timing", "end")):
        part = shown.sel({name: [value] for name, value in plan.items()})
        laid.append(rates_title(plan, system) + ":\n\n" + _beside(part.squeeze(list(plan)), system))
        if (part["nitrogen"] > part["nitrogen"].min()).any():
            kept = part.squeeze(["seeding", "end"])
            laid.append(_response_title(kept, system) + "\n\n" + _responses(kept, system))
    return "\n\n".join([*laid, paragraph(_meaning(shown))])


def _meaning(grid: xr.Dataset) -> str:
    """Say what the figures of the tables are."""
    told = [spread_meaning(grid.sizes["year"])]
    if grid["biomass_kg_ha"].isnull().any():
        told.append("Only falls in which the end was reached count; their number stands at the "
                    "right, and of fewer than ten the lowest and highest are given.")  # fmt: skip
    told.append("Biomass is dry matter of shoots; N leached is nitrate nitrogen washed below the "
                "soil column since September, before sowing too.")  # fmt: skip
    return " ".join(text for text in told if text)


def _plans(grid: xr.Dataset, dimensions: tuple[str, ...]) -> list[dict[str, Any]]:
    labels = [grid[name].values for name in dimensions]
    return [dict(zip(dimensions, values, strict=True)) for values in product(*labels)]


def _beside(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("biomass\nas recorded", mass),
        Column("biomass\nchanged", mass),
        Column("differ-\nence", mass),
        Column("N leached\nrecorded", nitrogen),
        Column("N leached\nchanged", nitrogen),
    ]
    rows, counts = [], []
    for plan in _plans(part, ("sow", "nitrogen")):
        cases = [part.sel(plan).sel(case=case) for case in (RECORDED, CHANGED)]
        biomass = [case["biomass_kg_ha"].values for case in cases]
        leached = [mean(case["nitrate_leached_kg_ha"].values) for case in cases]
        counts.append(_count(biomass[0]))
        rows.append([
            wording.dates_in(plan["sow"]),
            number(plan["nitrogen"], "nitrogen", system),
            *(over_falls(values, "mass", system) for values in biomass),
            difference(mean(biomass[0]), mean(biomass[1]), "mass", system),
            *(number(value, "nitrogen", system) for value in leached),
        ])  # fmt: skip
    return table(*_with_counts(columns, rows, counts, part.sizes["year"]))


def _count(values: NDArray[np.float64]) -> int:
    return int(np.isfinite(values).sum())


def _with_counts(
    columns: list[Column], rows: list[list[str]], counts: list[int], years: int
) -> tuple[list[Column], list[list[str]]]:
    """Add the number of falls behind each row where it is not that of the whole grid."""
    if all(count == years for count in counts):
        return columns, rows
    told = [[*row, str(count)] for row, count in zip(rows, counts, strict=True)]
    return [*columns, Column("falls")], told


def _response_title(part: xr.Dataset, system: units.System) -> str:
    lowest = float(part["nitrogen"].min())
    than = f"above {units.spell(lowest, 'nitrogen', system)}" if lowest > 0 else "applied"
    return f"Biomass gained by the nitrogen {than}, and how much of that nitrogen leached:"


def _responses(part: xr.Dataset, system: units.System) -> str:
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("N", nitrogen),
        Column("gained\nas recorded", mass),
        Column("gained\nchanged", mass),
        Column("gain\nleft", "%"),
        Column("leached\nrecorded", nitrogen),
        Column("leached\nchanged", nitrogen),
    ]
    lowest = part["nitrogen"].min()
    gained = (part["biomass_kg_ha"] - part["biomass_kg_ha"].sel(nitrogen=lowest)).squeeze(
        "nitrogen_timing"
    )
    rows = []
    for effect in effects(part):
        if effect.applied <= 0:
            continue
        plan = gained.sel(sow=effect.sow, nitrogen=effect.nitrogen)
        rows.append([
            wording.dates_in(effect.sow),
            number(effect.nitrogen, "nitrogen", system),
            *(over_falls(plan.sel(case=case).values, "mass", system, sign=True)
              for case in (RECORDED, CHANGED)),
            plain_number(100.0 * effect.response_kept),
            number(effect.lost.recorded, "nitrogen", system),
            number(effect.lost.changed, "nitrogen", system),
        ])  # fmt: skip
    return table(columns, rows)


def compare_tables(grid: xr.Dataset, system: units.System) -> str:
    """Print the full factorial: a table for each end and timing, a row a plan.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.
    system : {"us", "si"}
    """
    mass, nitrogen = units.label("mass", system), units.label("nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("seed", mass),
        Column("N", nitrogen),
        Column("biomass", mass),
        Column("N in\nshoots", nitrogen),
        Column("C:N"),
        Column("N\nleached", nitrogen),
        Column("stage", "Zadoks"),
        Column("leaf\narea", "m2/m2"),
    ]
    laid = []
    for outer in _plans(grid, ("end", "nitrogen_timing")):
        rows, counts = [], []
        for plan in _plans(grid, ("sow", "seeding", "nitrogen")):
            case = {
                name: variable.values
                for name, variable in grid.sel({**outer, **plan}).data_vars.items()
            }
            counts.append(_count(case["biomass_kg_ha"]))
            rows.append([
                wording.dates_in(plan["sow"]),
                number(plan["seeding"], "mass", system),
                number(plan["nitrogen"], "nitrogen", system),
                over_falls(case["biomass_kg_ha"], "mass", system),
                number(mean(case["nitrogen_uptake_kg_ha"]), "nitrogen", system),
                plain_number(mean(case["carbon_to_nitrogen"])),
                number(mean(case["nitrate_leached_kg_ha"]), "nitrogen", system),
                plain_number(mean(case["growth_stage_zadoks"])),
                plain_number(mean(case["leaf_area_index"]), 1),
            ])  # fmt: skip
        when = wording.timing(outer["nitrogen_timing"])
        title = f"Nitrogen {when}, ended {wording.ending(outer['end'])}:"
        laid.append(f"{title}\n\n{table(*_with_counts(columns, rows, counts, grid.sizes['year']))}")
    return "\n\n".join([*laid, paragraph(_meaning(grid))])
