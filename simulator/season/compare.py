"""The loop over years and plans: records and texts in, labelled grids out."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters import cereals, fertilizers, soils
from simulator.parameters.varieties import grown_as, varieties
from simulator.problems import fault, parameters_named
from simulator.season import arguments
from simulator.season.arrays import empty_days, ends_as_numbers
from simulator.season.compiling import Announce, announce_compiling
from simulator.season.day.loop import grow_members
from simulator.season.day.record import FIELDS
from simulator.season.labels import described, provenance
from simulator.season.layout import (
    BareSoil,
    Layout,
    bare_soil_attribute,
    calendar,
    lay_out,
    read_bare,
    texts_of,
)
from simulator.season.seasons import Seasons, cut_seasons, latitude_of, notes_on, watered
from simulator.season.soil_test import measured_sets, soil_test_attributes
from simulator.weather.change import changed_by
from simulator.weather.fall_year import keep_filled
from simulator.weather.files.record_check import checked
from simulator.weather.radiation import about_radiation
from simulator.weather.record import (
    fill_short_gaps,
)

if TYPE_CHECKING:
    import xarray

BARE = "bare_"  # before the name of a field of bare soil
# what bare soil has: the rest is nothing
BARE_FIELDS = (
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "runoff_mm",
    "rain_mm",
    "irrigation_mm",
    "soil_nitrate_kg_ha",
    "soil_ammonium_kg_ha",
    "soil_water_mm",
    "snow_water_mm",
    "evaporation_mm",
    "mineralised_kg_ha",
    "denitrified_kg_ha",
    "soil_water_start_mm",
    "mineral_nitrogen_start_kg_ha",
    "soil_test_correction_kg_ha",
    "water_balance_error_mm",
    "nitrogen_balance_error_kg_ha",
)
MOST_MEMBERS = 500_000  # seasons in one grid held in memory
SEASONS_EACH = 4  # seasons a thread from which on none is cut in two


def compare(
    record: xarray.Dataset,
    *,
    cereal: str | cereals.Cereal = "rye",
    variety: Sequence[str] | str = "medium",
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    fertilizer: str | fertilizers.Fertilizer = "ammonium nitrate",
    soil_nitrate: str | None = None,
    organic_matter: float | None = None,
    irrigation: Sequence[str] | str | None = None,
    sow: Sequence[str] | str = ("10-20", "11-05", "11-20", "12-08"),
    seeding: Sequence[str] | str = "90 lb/acre",
    nitrogen: Sequence[str] | str = "0,30,60,90 lb/acre",
    nitrogen_timing: Sequence[str] | str = "sowing",
    end: Sequence[str] | str = "04-15",
    years: Iterable[int] | None = None,
    changes: Sequence[str] | str | None = None,
    layers: int | None = None,
    bare: bool | str | BareSoil = False,
    threads: int | None = None,
    announce: Announce | None = None,
) -> xarray.Dataset:
    """Grow every combination of plans in every year.

    Parameters
    ----------
    record : Dataset(time)
        tmax, tmin [degC], rain [mm], with the attribute ``latitude``.
    cereal, soil, previous_crop, fertilizer : str or parameter set
    variety : str or list of str
        early, medium or late, or days against a medium one, ``"6 days early"``; several add the
        dimension ``variety``.
    soil_nitrate : str, optional
        Nitrate and ammonium nitrogen measured in the soil, in place of what the previous crop
        leaves: ``"60 lb/acre"``, ``"60 lb/acre to 24 inch on 09-25"``; without a day it holds on
        the earliest sowing.
    organic_matter : float, optional
        Measured in the topsoil [percent], in place of the soil's.
    irrigation : str or list of str, optional
        Water put on in every fall: ``"0.5 inch on 10-22"``, several with commas.
    sow, nitrogen_timing, end : list of str, or one text with commas
        See `simulator.season.plan`.
    seeding, nitrogen : list of str, or one text with commas
        Rates with units; a text may share one: ``"0,30,60,90 lb/acre"``.
    years : iterable of int, optional
        Fall years; all that the record covers without it.
    changes : list of str, optional
        Weather changes; adds the dimension ``case``: ``as recorded`` and ``changed``.
    layers : int, optional
        Number of equal soil layers, 1 to 60.
    bare : bool, str or BareSoil
        Whether the same field without stand, nitrogen and irrigation is to stand beside: of each
        field of the day's record that bare soil has, such as ``nitrate_leached_kg_ha``, the
        variable ``bare_nitrate_leached_kg_ha``. ``"residue 2000 lb/acre"`` and ``"volunteers"``
        are other kinds of it, as `simulator.season.layout.read_bare` reads them.
    threads : int, optional
        As many as there are processors without it; the results are the same to the bit.
    announce : callable, optional
        Told when the loop has to be compiled first; prints to standard error without it.

    Returns
    -------
    Dataset(year[, variety], sow, seeding, nitrogen, nitrogen_timing, end[, case])
        Every field of `simulator.season.day.record.RECORD` at the end; NaN where the stand never
        reached it. Those of bare soil along year and end[, case]; NaN for an end that is no date,
        which bare soil does not reach. ``attrs["left_out"]`` lists the seasons that could not run,
        with the reason.

    Raises
    ------
    InputError
        Anything in the plans or the weather that cannot be used.
    """
    arguments.sets(cereal=cereal, soil=soil, previous_crop=previous_crop, fertilizer=fertilizer)
    kinds = varieties(variety)
    plan, changes = _plan_of(sow, seeding, nitrogen, nitrogen_timing, end, changes)
    years = arguments.fall_years(years)
    _check_numbers(layers, threads)
    ground, crop, measured = measured_sets(
        soil,
        previous_crop,
        soil_nitrate=soil_nitrate,
        organic_matter=organic_matter,
        **{name: plan[name] for name in ("sow", "nitrogen", "nitrogen_timing")},
    )
    layout = lay_out(
        cereal=cereal, soil=ground, previous_crop=crop, fertilizer=fertilizer, layers=layers, **plan
    )
    layouts = [replace(layout, cereal=grown_as(layout.cereal, one)) for one in kinds]
    record = fill_short_gaps(watered(checked(record), irrigation, plan["sow"], plan["end"]))
    latitude = latitude_of(record)
    cases = _cases(record, changes)
    cut = {
        case: cut_seasons(weather, years, layout.sowings, layout.ends)
        for case, weather in cases.items()
    }
    seasons = cut["as recorded"]
    _refuse_too_many(len(cases) * len(seasons.years), layouts)
    announce_compiling("grow_members", announce)
    result = _of_varieties(layouts, cut, latitude, threads, bare=read_bare(bare)).assign_attrs(
        provenance(
            keep_filled(record, seasons.days()),
            **layout.names() | {"variety": ", ".join(one.cereal.variety for one in layouts)},
            changes=cases[list(cases)[-1]].attrs.get("changes", ""),
            left_out=list(seasons.left_out),
            notes=[*notes_on(seasons), *about_radiation(cases[list(cases)[-1]]), *measured],
            **soil_test_attributes(crop),
        )
    )
    return described(result if changes else result.isel(case=0, drop=True))


def _plan_of(
    sow: Any, seeding: Any, nitrogen: Any, nitrogen_timing: Any, end: Any, changes: Any
) -> tuple[dict[str, Any], Any]:
    """Return the texts of the plans by name, and the changes, each refused where it is no text."""
    texts = {
        "sow": sow,
        "seeding": seeding,
        "nitrogen": nitrogen,
        "nitrogen_timing": nitrogen_timing,
        "end": end,
    }
    *plan, changes = arguments.texts(**texts, changes=changes or ())
    return dict(zip(texts, plan, strict=True)), changes


def _cases(record: xarray.Dataset, changes: Any) -> dict[str, xarray.Dataset]:
    """Return the weather as recorded and, where there are changes, as changed."""
    if not changes:
        return {"as recorded": record}
    return {
        "as recorded": record,
        "changed": changed_by(record, *texts_of(changes, split=False)),
    }


def _check_numbers(layers: Any, threads: Any) -> None:
    if layers is not None:
        arguments.whole(layers, name="layers", such=10)
    if threads is not None:
        arguments.whole(threads, name="threads", such=2, least=1)


def _refuse_too_many(seasons: int, layouts: Sequence[Layout]) -> None:
    seasons *= sum(len(layout.combinations) for layout in layouts)
    ends = len(layouts[0].ends)
    if seasons * ends > MOST_MEMBERS:
        raise fault(
            parameters_named("years", "sow", "seeding", "nitrogen", "nitrogen_timing", "end"),
            f"{seasons:,} seasons with {ends} ends each are too many for one grid.",
            f"Stay under {MOST_MEMBERS:,}.",
        )


def _of_varieties(
    layouts: Sequence[Layout],
    cut: Mapping[str, Seasons],
    latitude: float,
    threads: int | None,
    *,
    bare: BareSoil | None,
) -> xarray.Dataset:
    """Grow one variety, or several along the dimension ``variety``, beside one bare soil."""
    import xarray

    first = _grown(layouts[0], cut, latitude, threads, bare=bare)
    if len(layouts) == 1:
        return first
    beside = [name for name in first.data_vars if str(name).startswith(BARE)]
    grids = [first.drop_vars(beside)]
    grids += [_grown(layout, cut, latitude, threads) for layout in layouts[1:]]
    names = xarray.DataArray([one.cereal.variety for one in layouts], dims="variety")
    together = xarray.concat(grids, dim=names.rename("variety"))
    return together.transpose("year", "variety", ...).merge(first[beside])


def _grown(
    layout: Layout,
    cut: Mapping[str, Seasons],
    latitude: float,
    threads: int | None,
    bare: BareSoil | None = None,
) -> xarray.Dataset:
    """Grow every plan in every season of each case, and label the grids; bare soil too."""
    import xarray

    grids = [grow_layout(layout, weather, latitude, threads) for weather in cut.values()]
    years = cut["as recorded"].years
    stacked = np.stack(grids, axis=-1)  # season, plan, end, case
    shape = (len(years), *layout.shape, len(cut))
    dims = ("year", *layout.coordinates(), "case")
    grid = xarray.Dataset(
        {name: (dims, stacked[name].reshape(shape)) for name in FIELDS if name != "season_day"},
        coords={"year": list(years), **layout.coordinates(), "case": list(cut)},
    )
    if bare is None:
        return grid
    dated = [end.date is not None for end in layout.ends]
    dry = {case: weather.unwatered() for case, weather in cut.items()}
    beside = _bare(_grown(layout.bare(bare), dry, latitude, threads), dated)
    return grid.merge(beside).assign_attrs(bare_soil_attribute(bare))


def _bare(grid: xarray.Dataset, dated: Sequence[bool]) -> xarray.Dataset:
    """Return the fields of a grid of bare soil, by name, along year, end and case.

    Volunteers reach a stage on a day of their own, which sets nothing beside the plans' stage.
    """
    import xarray

    named = described(grid[list(BARE_FIELDS)]).isel(
        sow=0, seeding=0, nitrogen=0, nitrogen_timing=0, drop=True
    )
    named = named.where(xarray.DataArray(list(dated), dims="end"))
    for field in named.data_vars.values():
        field.attrs["long_name"] += ", bare soil"
    return named.rename({name: f"{BARE}{name}" for name in BARE_FIELDS})


def grow_layout(
    layout: Layout, seasons: Seasons, latitude: float, threads: int | None = None
) -> np.ndarray[Any, Any]:
    """Grow every plan in every season of one place.

    Parameters
    ----------
    layout : Layout
    seasons : Seasons
    latitude : float
        [degrees north].
    threads : int, optional
        As many as there are processors without it; the results are the same to the bit.

    Returns
    -------
    structured array (season, plan, end) of `simulator.season.day.record.DAY`
        NaN where an end is not reached.
    """
    days = calendar(layout, seasons.years)
    kinds, end_days, values = ends_as_numbers(layout.ends, seasons.years)
    kind, plan_count = layout.cereal.as_record(), len(layout.combinations)
    drivers = seasons.drivers(latitude, kind)
    out = empty_days((len(seasons.years) * plan_count, len(layout.ends)))
    run_members(
        len(out),
        threads,
        drivers,
        seasons.spans,
        np.repeat(np.arange(len(seasons.years)), plan_count),
        np.tile(np.arange(plan_count), len(seasons.years)),
        days.sow_days,
        np.array([seeding for _, seeding, *_ in layout.combinations]),
        days.dressing_days,
        layout.dressing_amounts(),
        kinds,
        end_days,
        values,
        kind,
        layout.soil.at(latitude).as_record(),
        layout.previous_crop.as_record(),
        layout.fertilizer.as_record(),
        soils.layer_bottoms(layout.soil, layout.layers),
        out,
    )
    return out.reshape(len(seasons.years), plan_count, len(layout.ends))


def run_members(count: int, threads: int | None, *arguments: Any) -> None:
    """Share members out over threads; each writes only its own part of the output.

    Where there are seasons enough each thread has whole ones, whose plans share their days.
    """
    workers = max(min(threads or os.cpu_count() or 1, count), 1)
    drivers, spans, seasons, *rest = arguments
    edges = np.linspace(0, count, workers + 1).astype(int)
    whole = np.flatnonzero(np.diff(seasons, prepend=-1, append=-1))
    if whole.size > SEASONS_EACH * workers:
        edges = whole[np.searchsorted(whole, edges)]
    with ThreadPoolExecutor(workers) as pool:
        for done in [
            pool.submit(grow_members, drivers, spans, low, high, seasons, *rest)
            for low, high in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)
        ]:
            done.result()
