"""Residue from termination on: a compiled loop over days, and the weather that it follows."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.parameters.residues import Lie, lie
from simulator.problems import Parameter, fault
from simulator.process.compiled import compiled
from simulator.process.residue import MICROBIAL_RATIO, residue_cover, soil_loss_ratio
from simulator.season import plan as plans
from simulator.season.day.lying import LOTS, decay_a_day, lay_down, on_the_ground
from simulator.season.day.state import CARBON
from simulator.weather.fall_year import season_day
from simulator.weather.files.record_check import checked
from simulator.weather.record import NAMES, fill_short_gaps

if TYPE_CHECKING:
    import xarray

Array = np.ndarray[Any, Any]

# What is kept of a day: name, unit, meaning. Sums run from termination.
AFTER = (
    ("shoot_residue_kg_ha", "kg/ha", "dry matter of dead shoots"),
    ("root_residue_kg_ha", "kg/ha", "dry matter of dead roots"),
    ("ground_residue_kg_ha", "kg/ha", "dry matter on the ground, what is raised by its cover"),
    ("ground_covered", "1", "share of the ground covered by residue"),
    ("soil_loss_ratio", "1", "soil loss as a share of that from bare ground, by cover alone"),
    ("nitrogen_released_kg_ha", "kg/ha", "nitrogen set free since termination, net of tied up"),
    ("residue_nitrogen_kg_ha", "kg/ha", "nitrogen in dead shoots and roots"),
    ("microbial_nitrogen_kg_ha", "kg/ha", "nitrogen in the microbes that live on them"),
    ("residue_carbon_kg_ha", "kg/ha", "carbon in dead shoots and roots"),
    ("microbial_carbon_kg_ha", "kg/ha", "carbon in the microbes"),
    ("respired_carbon_kg_ha", "kg/ha", "carbon breathed off since termination"),
    ("decomposition_days", "d", "days since termination, each by its warmth and water"),
)
COLUMNS = tuple(name for name, _, _ in AFTER)
STARTS = ("biomass_kg_ha", "nitrogen_uptake_kg_ha", "root_biomass_kg_ha", "root_nitrogen_kg_ha")
LONGEST = 365  # days followed


@compiled
def decay(
    mean: Array,
    rain: Array,
    days: int,
    shoot: float,
    shoot_ratio: float,
    root: float,
    root_ratio: float,
    lies: Array,
    out: Array,
) -> None:
    """Follow one stand's residue, day by day.

    Parameters
    ----------
    mean, rain : array (day,)
        Mean temperature [degC] and rain [mm]; the first day is that of termination.
    days : int
        How many of them to follow after that.
    shoot, root : float
        Dry matter at termination [kg/ha].
    shoot_ratio, root_ratio : float
        Their carbon to nitrogen.
    lies : structured array (1,)
        How the residue lies.
    out : array (day, `COLUMNS`)
        Filled up to ``days``; the first row is termination.

    References
    ----------
    The processes called; their docstrings name the papers.
    """
    starts = np.array([shoot, shoot_ratio, root, root_ratio])
    _decay(mean, rain, days, starts, lies, np.empty(1, LOTS), out)


@compiled
def _decay(
    mean: Array, rain: Array, days: int, starts: Array, lies: Array, work: Array, out: Array
) -> None:
    """Follow one stand's residue with work space that the caller keeps: a record holds no array."""
    lying, lots = lies[0], work[0]
    shoot, shoot_ratio, root, root_ratio = starts
    lay_down(shoot, shoot_ratio, root, root_ratio, lying, lots)
    for day in range(days + 1):
        if day > 0:
            decay_a_day(mean[day], rain[day], np.inf, lying, lots)
        shoots = lots.raised + lots.flat + lots.buried
        on_ground = on_the_ground(lying, lots)
        cover = residue_cover(on_ground, lying.area)
        row = out[day]
        row[0], row[1], row[2] = shoots / CARBON, lots.roots / CARBON, on_ground
        row[3], row[4] = cover, soil_loss_ratio(cover)
        row[5] = lots.released
        row[6] = shoots / shoot_ratio + lots.roots / root_ratio
        row[7] = lots.microbes / MICROBIAL_RATIO
        row[8], row[9], row[10] = shoots + lots.roots, lots.microbes, lots.respired
        row[11] = lots.passed


@compiled
def decay_members(
    mean: Array,
    rain: Array,
    days: Array,
    falls: Array,
    starts: Array,
    lies: Array,
    kinds: Array,
    out: Array,
) -> None:
    """Follow many stands' residue.

    Parameters
    ----------
    mean, rain : array (fall, day)
    days : int array (fall,)
        How many days of weather follow termination.
    falls, kinds : int array (member,)
        Whose weather; which of ``lies``.
    starts : array (member, 4)
        Shoot dry matter and C:N, root dry matter and C:N; NaN where no stand was ended.
    lies : structured array (lie,)
    out : array (member, day, `COLUMNS`)

    References
    ----------
    `decay`.
    """
    for member in range(falls.size):
        fall, kind = falls[member], kinds[member]
        shoot, shoot_ratio, root, root_ratio = starts[member]
        if shoot >= 0.0 and root >= 0.0:  # false for NaN
            decay(
                mean[fall],
                rain[fall],
                days[fall],
                shoot,
                shoot_ratio,
                root,
                root_ratio,
                lies[kind : kind + 1],
                out[member],
            )


def follow(
    record: xarray.Dataset,
    grid: xarray.Dataset,
    *,
    residue: Sequence[str | Lie] = ("standing", "flat", "rolled", "buried"),
    days: int = LONGEST,
) -> xarray.Dataset:
    """Follow the residue of each stand of a grid from termination on.

    Parameters
    ----------
    record : Dataset(time)
        The weather that the grid was grown in: tmax, tmin [degC], rain [mm].
    grid : Dataset(year, ...)
        From `simulator.season.compare.compare`, of one dated ``end`` selected.
    residue : sequence of str or Lie
        standing, flat, rolled, buried.
    days : int
        Days to follow, 1 to 365; fewer where the record ends or has a gap of more than 5 days.

    Returns
    -------
    Dataset(year, ..., residue, day)
        The fields of `AFTER`, NaN after the weather ends, and ``days_followed(year)``. What was
        filled is of the whole record: how much of it counts, whoever asks must say.

    Raises
    ------
    InputError
        An end that is not a date, an unknown way to lie, days out of range.
    """
    import xarray

    end = plans.end(str(grid["end"].values))
    if end.date is None:
        raise fault(
            Parameter("end"),
            f"'{end.text}' is no date.",
            "Residue is followed from a date on, such as 04-15.",
        )
    if not 1 <= days <= LONGEST:
        raise fault(Parameter("days"), f"{days} days cannot be followed.", f"Take 1 to {LONGEST}.")
    lies = [lie(one) if isinstance(one, str) else one for one in residue]
    record = fill_short_gaps(checked(record))
    mean, rain, followed = _weather_after(record, grid["year"].values.tolist(), end.date, days)
    inner = [str(name) for name in grid["biomass_kg_ha"].dims if name != "year"]
    dims = ("year", *inner)
    starts = _starts(grid, dims)
    shape = starts.shape[:-1]
    members = list(product(range(starts[..., 0].size), range(len(lies))))
    stand, kind = (np.array(column) for column in zip(*members, strict=True))
    out = np.full((len(members), days + 1, len(COLUMNS)), np.nan)
    per_fall = int(np.prod(shape[1:], dtype=int))
    decay_members(
        mean,
        rain,
        followed,
        stand // per_fall,
        np.ascontiguousarray(starts.reshape(-1, 4)[stand]),
        np.concatenate([one.as_record() for one in lies]),
        kind,
        out,
    )
    block = out.reshape(*shape, len(lies), days + 1, len(COLUMNS))
    result = xarray.Dataset(
        {
            name: (
                (*dims, "residue", "day"),
                block[..., column],
                {"units": unit, "long_name": meaning},
            )
            for column, (name, unit, meaning) in enumerate(AFTER)
        },
        coords={name: grid[name] for name in dims}
        | {"residue": [one.name for one in lies], "day": np.arange(days + 1)},
        attrs={**grid.attrs, "end": end.text, **_about_weather(record)},
    )
    result["days_followed"] = (
        "year",
        followed,
        {"units": "d", "long_name": "days of weather after termination"},
    )
    result["day"].attrs.update(units="d", long_name="days since termination")
    return result


def _about_weather(record: xarray.Dataset) -> dict[str, str]:
    last = str(record["time"].values[-1].astype("datetime64[D]"))
    return {"filled": record.attrs["filled"], "last_day": last}


def _starts(grid: xarray.Dataset, dims: tuple[str, ...]) -> Array:
    """Dry matter and C:N of shoots and roots, last axis in the order of `decay`."""
    shoot, shoot_nitrogen, root, root_nitrogen = (
        grid[name].transpose(*dims).values for name in STARTS
    )
    ratios = []
    for mass, nitrogen in ((shoot, shoot_nitrogen), (root, root_nitrogen)):
        there = (mass > 0.0) & (nitrogen > 0.0)
        # of nothing any ratio does
        ratios.append(np.where(there, CARBON * mass / np.where(there, nitrogen, 1.0), 1.0))
    return np.stack([shoot, ratios[0], root, ratios[1]], axis=-1)


def _weather_after(
    record: xarray.Dataset, years: Sequence[int], end: str, days: int
) -> tuple[Array, Array, Array]:
    """Mean temperature and rain from termination on (fall, day), and how many days follow it."""
    times = record["time"].values.astype("datetime64[D]")
    columns = np.stack([np.asarray(record[name].values, float) for name in NAMES])
    block = np.full((len(NAMES), len(years), days + 1), np.nan)
    for fall, year in enumerate(years):
        place = (season_day(year, end) - times[0]).astype(int) + np.arange(days + 1)
        there = (place >= 0) & (place < times.size)
        block[:, fall, there] = columns[:, place[there]]
    known = np.isfinite(block).all(axis=0)
    followed = np.where(known.all(axis=1), days, np.argmin(known, axis=1) - 1)
    by_name = dict(zip(NAMES, block, strict=True))
    return 0.5 * (by_name["tmax"] + by_name["tmin"]), by_name["rain"], followed
