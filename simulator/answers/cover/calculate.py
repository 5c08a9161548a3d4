"""What residue does from termination on: cover, soil spared, nitrogen, weeds held back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import fault

if TYPE_CHECKING:
    import xarray as xr

COVERS = (0.30, 0.60, 0.90)
HEAVY = 8000.0  # kg/ha that holds back small-seeded annual weeds (docs/cover.md)
FEWEST_DAYS = 7
WEEK = 7
BY_DAY = (
    "shoot_residue_kg_ha",
    "root_residue_kg_ha",
    "ground_residue_kg_ha",
    "ground_covered",
    "soil_loss_ratio",
    "nitrogen_released_kg_ha",
)


@dataclass(frozen=True, slots=True)
class Cover:
    """Residue followed, and what it comes to.

    Parameters
    ----------
    stands : Dataset(year, sow)
        As they ended; only the falls used.
    residue : Dataset(year, sow, residue, day)
        Of the falls used, up to the last day that all of them have.
    falls : Dataset(year, sow, residue)
        ``days_above_30, days_above_60, days_above_90``, whether still above on the last day;
        ``days_heavy``; ``days_to_half``.
    by_day : Dataset(sow, residue, day)
        Means over falls, and for cover the range of 8 in 10.
    left_out : list of str
        Falls not used, with the reason.
    ends_early : str
        Why fewer days are followed than asked for; empty where they are not.
    """

    stands: xr.Dataset
    residue: xr.Dataset
    falls: xr.Dataset
    by_day: xr.Dataset
    left_out: list[str]
    ends_early: str

    @property
    def days(self) -> int:
        """Days followed."""
        return int(self.residue["day"][-1])


def cover(stands: xr.Dataset, residue: xr.Dataset) -> Cover:
    """Gather what residue comes to.

    Parameters
    ----------
    stands : Dataset(year, sow)
        From `compare`, one plan but for sowing selected, one dated end.
    residue : Dataset(year, sow, residue, day)
        From `simulator.season.residue_decay.follow` of the same.

    Returns
    -------
    Cover

    Raises
    ------
    InputError
        The weather of most falls ends less than a week after termination.
    """
    asked = int(residue["day"][-1])
    followed = residue["days_followed"].values
    # the most days that at least half of the falls have
    days = int(np.sort(followed)[followed.size // 2])
    ends = residue.attrs["end"]
    if days < FEWEST_DAYS:
        raise fault(
            "weather",
            f"In most falls it ends {max(days, 0)} days after {ends}: too few to follow residue.",
            f"Give weather that goes on into summer, or an end at least {FEWEST_DAYS} days before "
            "it stops.",
        )
    used = followed >= days
    left_out = [
        f"{int(year)}: the weather ends {int(count)} days after {ends}."
        for year, count in zip(residue["year"].values, followed, strict=True)
        if count < days
    ]
    early = ""
    if days < asked:
        early = (
            f"The weather of most falls ends {days} days after {ends}, of {asked} asked for: "
            "what lasts longer is given as at least so many days."
        )
    residue = residue.isel(year=used, day=slice(0, days + 1))
    return Cover(
        stands.isel(year=used), residue, by_fall(residue), _by_day(residue), left_out, early
    )


def by_fall(residue: xr.Dataset) -> xr.Dataset:
    """Count each fall's days: above each cover, heavy enough, to half of the shoots' mass."""
    import xarray

    ground = residue["ground_covered"]
    later = ground.isel(day=slice(1, None))
    known = ground.isel(day=-1).notnull()
    found: dict[str, Any] = {}
    for share in COVERS:
        percent = f"{100 * share:.0f}"
        above = (later >= share).sum("day").where(known)
        found[f"days_above_{percent}"] = above.assign_attrs(
            units="d", long_name=f"days with {percent} % covered or more"
        )
        found[f"above_{percent}_at_last"] = (ground.isel(day=-1) >= share).assign_attrs(
            units="1", long_name=f"whether {percent} % is covered on the last day"
        )
    heavy = (residue["ground_residue_kg_ha"].isel(day=slice(1, None)) >= HEAVY).sum("day")
    found["days_heavy"] = heavy.where(known).assign_attrs(
        units="d", long_name="days heavy enough to hold back small weeds"
    )
    mass = residue["shoot_residue_kg_ha"]
    half = mass <= 0.5 * mass.isel(day=0)
    found["days_to_half"] = (
        half.argmax("day")
        .where(half.any("day"))
        .assign_attrs(units="d", long_name="days until half of the shoots' dry matter is gone")
    )
    return xarray.Dataset(found, attrs=residue.attrs)


def _by_day(residue: xr.Dataset) -> xr.Dataset:
    """Means over falls day by day, with the range of cover in 8 of 10 falls."""
    means = residue[list(BY_DAY)].mean("year", keep_attrs=True)
    low, high = np.nanpercentile(
        residue["ground_covered"].values,
        [10.0, 90.0],
        axis=residue["ground_covered"].dims.index("year"),
    )
    dims = means["ground_covered"].dims
    for name, values in (("low", low), ("high", high)):
        means[f"ground_covered_{name}"] = (
            dims,
            values,
            {"units": "1", "long_name": f"the same, {name} end of 8 in 10 falls"},
        )
    means.attrs = dict(residue.attrs)
    return means


def weekly_nitrogen(by_day: xr.Dataset) -> xr.DataArray:
    """Nitrogen released in each whole week since termination [kg/ha], below zero tied up."""
    released = by_day["nitrogen_released_kg_ha"]
    ends = released.isel(day=slice(0, None, WEEK))
    weeks = ends.diff("day").rename(day="week")
    return weeks.assign_coords(week=np.arange(1, weeks.sizes["week"] + 1)).assign_attrs(
        units="kg/ha", long_name="nitrogen set free in the week, net of tied up"
    )
