"""Stands killed on several days, and what the next crop finds in the soil when it is planted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.parameters.residues import Lie, lie
from simulator.problems import Parameter, fault
from simulator.season import plan as plans
from simulator.season.arrays import ends_as_numbers
from simulator.season.compiling import Announce, announce_compiling
from simulator.season.day.killed import AT_PLANTING, DAY, lie_members
from simulator.season.layout import (
    BareSoil,
    Layout,
    bare_soil_attribute,
    calendar,
    lay_out,
    read_bare,
)
from simulator.season.seasons import Seasons, cut_seasons, latitude_of
from simulator.weather.fall_year import keep_filled
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray

Array = np.ndarray[Any, Any]

PLANTING = Parameter("planting")
LAST_DAY = "06-30"  # of a season


def planting_day(text: str, *, name: str = Parameter("planting")) -> str:
    """Read the day on which the next crop is planted: MM-DD, from January to June.

    Raises
    ------
    InputError
        No date, or one after the season has ended on June 30.
    """
    date = plans.month_day(text, name=name)
    if date > LAST_DAY:
        raise fault(
            name,
            f"{date} is after the season, which runs from July to June.",
            f"Give a day in spring, up to {LAST_DAY}.",
        )
    return date


def until_planting(
    record: xarray.Dataset,
    *,
    planting: str,
    cereal: str | cereals.Cereal = "rye",
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    fertilizer: str | fertilizers.Fertilizer = "ammonium nitrate",
    sow: Sequence[str] | str = "10-20",
    seeding: Sequence[str] | str = "90 lb/acre",
    nitrogen: Sequence[str] | str = "30 lb/acre",
    nitrogen_timing: Sequence[str] | str = "sowing",
    end: Sequence[str] | str = "04-15",
    residue: Sequence[str | Lie] = ("rolled",),
    years: Sequence[int] | None = None,
    bare: bool | str | BareSoil = False,
    announce: Announce | None = None,
) -> xarray.Dataset:
    """Grow every plan in every year, kill it on each date, and follow its soil to planting.

    The stand grows as in `simulator.season.compare.compare`. From the day of killing on the soil
    takes in rain, and dries under the residue; the residue decays as in
    `simulator.season.residue_decay`, with the nitrogen that it finds.

    Parameters
    ----------
    record : Dataset(time)
        tmax, tmin [degC], rain [mm], with the attribute ``latitude``.
    planting : str
        MM-DD.
    cereal, soil, previous_crop, fertilizer : str or parameter set
    sow, seeding, nitrogen, nitrogen_timing : list of str, or one text with commas
        As in `compare`.
    end : list of str, or one text with commas
        Dates of killing, MM-DD.
    residue : sequence of str or Lie
        standing, flat, rolled, buried.
    years : sequence of int, optional
        Fall years; all that the record covers to planting without it.
    bare : bool, str or BareSoil
        Whether to follow the same field without a stand and without nitrogen in place of the
        plans: one, from the same day on, its sums from each date of killing. Kinds of it as in
        `compare`; volunteers are killed with the stands.
    announce : callable, optional
        As in `compare`.

    Returns
    -------
    Dataset(year, sow, seeding, nitrogen, nitrogen_timing, end, residue)
        The fields of `simulator.season.day.killed.AT_PLANTING`; NaN where a stand is killed after
        planting, and of years asked for whose weather does not go on to planting.

    Raises
    ------
    InputError
        Anything that cannot be used, an end that is no date, a record without a year to planting.
    """
    import xarray

    without = read_bare(bare)
    # what lies on bare soil is looked at on any day of the season
    date = planting_day(planting) if without is None else plans.month_day(planting, name=PLANTING)
    layout = lay_out(
        cereal=cereal,
        soil=soil,
        previous_crop=previous_crop,
        fertilizer=fertilizer,
        sow=sow,
        seeding=seeding,
        nitrogen=nitrogen,
        nitrogen_timing=nitrogen_timing,
        end=end,
    )
    if undated := [one.text for one in layout.ends if one.date is None]:
        raise fault(Parameter("end"), f"'{undated[0]}' is no date.", "Give one, such as 04-15.")
    lies = [lie(one) if isinstance(one, str) else one for one in residue]
    record = fill_short_gaps(checked(record))
    seasons = cut_seasons(record, years, layout.sowings, [plans.End(date, date=date)])
    if without is not None:
        layout, seasons = layout.bare(without), seasons.unwatered()
    announce_compiling("lie_members", announce)
    out = _follow(layout, seasons, latitude_of(record), date, lies)
    coordinates = {**layout.coordinates(), "residue": [one.name for one in lies]}
    block = out.reshape(len(seasons.years), *layout.shape, len(lies))
    dims = ("year", *coordinates)
    made = xarray.Dataset(
        {
            name: (dims, block[name], {"units": unit, "long_name": meaning})
            for name, unit, meaning in AT_PLANTING
        },
        coords={"year": list(seasons.years), **coordinates},
        attrs={
            "planting": date,
            "left_out": list(seasons.left_out),
            "filled": keep_filled(record, seasons.days()).attrs["filled"],
            **bare_soil_attribute(without),
        },
    )
    return made if years is None else made.reindex(year=sorted(set(years)))


def _follow(
    layout: Layout, seasons: Seasons, latitude: float, planting: str, lies: Sequence[Lie]
) -> Array:
    """Grow, kill and follow: a structured array (season, plan, end, lie) of `DAY`."""
    kind, days = layout.cereal.as_record(), calendar(layout, seasons.years)
    drivers = seasons.drivers(latitude, kind)
    out = np.empty((*days.sow_days.shape, len(layout.ends), len(lies)), DAY)
    out.view(np.float64)[...] = np.nan
    lie_members(
        drivers,
        seasons.spans,
        days.sow_days,
        np.array([rate for _, rate, *_ in layout.combinations]),
        days.dressing_days,
        layout.dressing_amounts(),
        ends_as_numbers(layout.ends, seasons.years)[1],
        np.array([plans.day_number(year, planting) for year in seasons.years]),
        kind,
        layout.soil.at(latitude).as_record(),
        layout.previous_crop.as_record(),
        layout.fertilizer.as_record(),
        np.concatenate([one.as_record() for one in lies]),
        soils.layer_bottoms(layout.soil, layout.layers),
        out,
    )
    return out
