"""When to end a stand: what each date has grown and left, how to end it, what waiting brings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.bare_soil import Beside, beside
from simulator.answers.shared.field_ranges import Ranges, gain_ranges
from simulator.answers.shared.planting import SHARE_KEPT
from simulator.answers.shared.soil_water import available, full_water
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.soils import Soil
from simulator.parameters.terminations import WAYS
from simulator.season.plan import order
from simulator.weather.fall_year import usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

DATES = (
    "03-01",
    "03-08",
    "03-15",
    "03-22",
    "03-29",
    "04-05",
    "04-12",
    "04-19",
    "04-26",
    "05-03",
    "05-10",
    "05-15",
)
BALANCED = 24.0  # C:N above which decay ties up nitrogen (USDA-NRCS)
WAIT_FROM, WAIT_DAYS = "03-15", 28


_FIELDS = (
    ("growth_kg_ha_d", "kg ha-1 d-1", "biomass gained a day since the date before"),
    ("available_water_mm", "mm", "water above the wilting point on the day, to field capacity"),
    ("available_water_share", "1", "the same as a share of what the column can hold"),
    ("water_used_mm", "mm", "evaporation and transpiration from the soil's first day"),
)
_AT_PLANTING = (
    ("planting_water_mm", "mm", "the same water on the day of planting"),
    ("planting_water_share", "1", "the same as a share of what the column can hold"),
)
_BARE = (
    ("bare_planting_water_mm", "mm", "the same water where nothing was sown or spread"),
    ("bare_planting_nitrate_kg_ha", "kg/ha", "nitrate nitrogen in the soil column there"),
    ("bare_planting_covered", "1", "share of the ground there under the old residue"),
)
KEPT_AT_PLANTING = (
    "planting_nitrate_kg_ha",
    "planting_ammonium_kg_ha",
    "planting_covered",
    "planting_residue_kg_ha",
    "full_again",
)
KEPT = (
    "biomass_kg_ha",
    "growth_stage_zadoks",
    "carbon_to_nitrogen",
    "nitrogen_uptake_kg_ha",
    "nitrogen_percent",
    "soil_nitrate_kg_ha",
    "stand_alive",
)


def covered_dates(record: xr.Dataset, sow: str, years: list[int] | None) -> list[str]:
    """Return those of the usual dates for which the record keeps most of its falls.

    Parameters
    ----------
    record : Dataset(time)
    sow : str
        Sowing date, MM-DD.
    years : list of int or None
        Fall years asked for.

    Returns
    -------
    list of str
        At least the first, so that a record that covers none is told by who runs it.
    """
    filled = fill_short_gaps(checked(record))
    counts = [len(usable_years(filled, sow, date, years)[0]) for date in DATES]
    return [
        date
        for date, count in zip(DATES, counts, strict=True)
        if date == DATES[0] or (count and count >= SHARE_KEPT * counts[0])
    ]


def timing(
    grid: xr.Dataset,
    soil: Soil,
    at_planting: xr.Dataset | None = None,
    errors: ModelErrors = SHIPPED,
    bare: xr.Dataset | None = None,
) -> xr.Dataset:
    """Work out what each date of ending has grown, left and needs.

    Parameters
    ----------
    grid : Dataset(year, end)
        From `compare`, one plan selected, all ends dates.
    soil : Soil
        Whose water is counted.
    at_planting : Dataset(year, end), optional
        From `simulator.season.until_planting.until_planting` of the same plan; without it nothing
        is said of the day of planting.
    errors : ModelErrors
        How far off the model is; kept as the attribute ``model_errors``.
    bare : Dataset(year, end), optional
        From `until_planting` with ``bare``: the soil on the day of planting where nothing was sown
        or spread.

    Returns
    -------
    Dataset(year, end)
        In the order of the calendar: the fields of a row, and for each of `WAYS` the share
        expected to die, NaN where no stand lives.
    """
    days = [order(str(end)) for end in grid["end"].values]
    calendar = np.argsort(days)
    grid = grid.isel(end=calendar).transpose("year", "end", ...)
    found = grid[list(KEPT)].copy()
    gaps = np.diff(np.array(days)[calendar]).astype(float)
    growth = np.full(grid["biomass_kg_ha"].shape, np.nan)
    growth[:, 1:] = np.diff(grid["biomass_kg_ha"].values, axis=1) / gaps
    full = full_water(soil)
    left = available(grid["soil_water_mm"].values, soil)
    used = (grid["evaporation_mm"] + grid["transpiration_mm"]).values
    _add(found, _FIELDS, (growth, left, left / full, used))
    stage = np.where(grid["stand_alive"].values > 0, grid["growth_stage_zadoks"].values, np.nan)
    for way in WAYS:
        found[way.field] = (
            ("year", "end"),
            way.kill(stage),
            {"units": "1", "long_name": f"share expected to die where {way.name}"},
        )
    found.attrs.update(full_water_mm=full, model_errors=errors)
    if at_planting is not None:
        there = at_planting.reindex(year=found["year"], end=found["end"])
        there = there.transpose("year", "end", ...)
        water = available(there["planting_soil_water_mm"].values, soil)
        _add(found, _AT_PLANTING, (water, water / full))
        for name in KEPT_AT_PLANTING:
            found[name] = (("year", "end"), there[name].values, there[name].attrs)
        found.attrs["planting"] = at_planting.attrs["planting"]
        if order(found.attrs["planting"]) >= max(days):  # what was filled up to then
            found.attrs["filled"] = at_planting.attrs["filled"]
    if bare is not None:
        there = bare.reindex(year=found["year"], end=found["end"]).transpose("year", "end", ...)
        water = available(there["planting_soil_water_mm"].values, soil)
        columns = (there[name].values for name in ("planting_nitrate_kg_ha", "planting_covered"))
        _add(found, _BARE, (water, *columns))
        if "bare_soil" in bare.attrs:
            found.attrs["bare_soil"] = bare.attrs["bare_soil"]
    return found


def _add(
    found: xr.Dataset, fields: Sequence[tuple[str, str, str]], columns: Sequence[Array]
) -> None:
    for (name, unit, meaning), values in zip(fields, columns, strict=True):
        found[name] = (("year", "end"), values, {"units": unit, "long_name": meaning})


@dataclass(frozen=True, slots=True)
class Waiting:
    """What it brings to end a stand later, each an array (fall,).

    Parameters
    ----------
    first, last : str
        The two dates.
    days : int
    biomass_before, biomass_after : array
        [kg/ha].
    ratio_before, ratio_after : array
        C:N.
    planting : str
        MM-DD; empty where nothing is known of it, and then what follows is NaN.
    water_before, water_after : array
        On the day of planting, where the stand was ended on the one and on the other date [mm].
    nitrate_before, nitrate_after : array
        Likewise [kg/ha].
    full_before, full_after : array
        Whether the column was full again by then, 1 or 0.
    errors : ModelErrors
    """

    first: str
    last: str
    days: int
    biomass_before: Array
    biomass_after: Array
    ratio_before: Array
    ratio_after: Array
    planting: str
    water_before: Array
    water_after: Array
    nitrate_before: Array
    nitrate_after: Array
    full_before: Array
    full_after: Array
    errors: ModelErrors = SHIPPED

    @property
    def gained(self) -> Array:
        """Biomass gained meanwhile (fall,) [kg/ha]."""
        return np.asarray(self.biomass_after - self.biomass_before)

    @property
    def ranges(self) -> Ranges:
        """What is gained, over the falls and in a field like these [kg/ha]."""
        return gain_ranges(self.gained, self.days, self.errors.gain)

    @property
    def at_planting(self) -> bool:
        """Whether both dates have falls whose soil is known on the day of planting."""
        return bool(np.isfinite(self.water_after - self.water_before).any())


def waiting(found: xr.Dataset) -> Waiting | None:
    """Compare the dates nearest to mid-March and to four weeks after it; None for a single date.

    Only falls with a living stand on both dates are compared.
    """
    ends = [str(end) for end in found["end"].values]
    days = np.array([order(end) for end in ends])
    if days.size < 2:
        return None
    first = int(np.argmin(abs(days[:-1] - order(WAIT_FROM))))
    last = first + 1 + int(np.argmin(abs(days[first + 1 :] - (days[first] + WAIT_DAYS))))
    alive = (found["stand_alive"].isel(end=[first, last]) > 0).all("end").values
    if not alive.any():
        return None

    values: dict[str, Array] = {}
    for quantity, name in _COMPARED.items():
        for when, end in (("before", first), ("after", last)):
            unknown = np.full(int(alive.sum()), np.nan)
            there = found[name].isel(end=end, year=alive).values if name in found else unknown
            values[f"{quantity}_{when}"] = there
    return Waiting(
        first=ends[first],
        last=ends[last],
        days=int(days[last] - days[first]),
        planting=str(found.attrs.get("planting", "")),
        errors=found.attrs.get("model_errors", SHIPPED),
        **values,
    )


_COMPARED = {
    "biomass": "biomass_kg_ha",
    "ratio": "carbon_to_nitrogen",
    "water": "planting_water_mm",
    "nitrate": "planting_nitrate_kg_ha",
    "full": "full_again",
}


def beside_bare(found: xr.Dataset, end: str, name: str) -> Beside | None:
    """Set the soil on the day of planting beside bare soil's; None where nothing is known of it.

    Parameters
    ----------
    found : Dataset(year, end)
        From `timing`.
    end : str
        Date of ending.
    name : str
        ``planting_water_mm``, ``planting_nitrate_kg_ha`` or ``planting_covered``.
    """
    if name not in found or f"bare_{name}" not in found:
        return None
    at = found.sel(end=end)
    return beside(found["year"].values.tolist(), at[name].values, at[f"bare_{name}"].values)


def first_date(found: xr.Dataset, name: str, least: float, share: float) -> str | None:
    """Return the first date from which on a value is reached in a share of falls, or None."""
    reached = (found[name] >= least).where(found[name].notnull()).mean("year").values >= share
    stays = np.logical_and.accumulate(reached[::-1])[::-1]
    return str(found["end"].values[int(np.argmax(stays))]) if stays.any() else None
