"""What residue does from termination on: cover, soil spared, nitrogen, weeds held back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.cover import in_fields
from simulator.answers.cover.in_fields import cover_by_day
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.terminations import Way, way_for, way_of
from simulator.problems import fault
from simulator.season.plan import order
from simulator.season.seasons import days_used
from simulator.weather.fall_year import keep_filled, season_day

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

    from simulator.answers.cover.bare_soil import BareDay
    from simulator.answers.cover.on_day import OnDay
    from simulator.answers.shared.field_ranges import Ranges

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
    errors : ModelErrors
    on : tuple of OnDay
        Days after termination that were asked for, the day of planting among them.
    green : Dataset(year, sow, date) or None
        ``green_cover`` of the living stand, NaN before it is sown; ``bare_covered`` (year, date),
        what residue covers on bare soil.
    bare : tuple of BareDay
        Bare soil and the stands' fields on the day of termination, that of planting and others.
    weeks : tuple of int
        After the end, of which nitrogen is told; empty for the usual ones.
    kill : str
        By which tool the stand is ended, as `simulator.parameters.terminations` has it; empty for
        the one that leaves residue as it lies.
    """

    stands: xr.Dataset
    residue: xr.Dataset
    falls: xr.Dataset
    by_day: xr.Dataset
    left_out: list[str]
    ends_early: str
    errors: ModelErrors = SHIPPED
    on: tuple[OnDay, ...] = ()
    green: xr.Dataset | None = None
    bare: tuple[BareDay, ...] = ()
    weeks: tuple[int, ...] = ()
    kill: str = ""

    def way(self, name: str) -> Way:
        """Return how the stand is ended whose residue lies so."""
        return way_of(self.kill) if self.kill else way_for(name)

    @property
    def days(self) -> int:
        """Days followed."""
        return int(self.residue["day"][-1])

    def biomass(self, sow: str) -> NDArray[np.float64]:
        """Biomass at termination (fall,) [kg/ha]."""
        return np.asarray(self.stands["biomass_kg_ha"].sel(sow=sow).values)

    def cover_ranges(self, sow: str, name: str, day: int = 0) -> Ranges:
        """Return the ranges of the share of the ground covered on a day since termination."""
        covered = self.residue["ground_covered"].sel(sow=sow, residue=name).isel(day=day).values
        return in_fields.cover_ranges(covered, self.biomass(sow), self.errors)

    def days_ranges(self, sow: str, name: str, share: float) -> Ranges:
        """Return the ranges of days on which a share of the ground is covered."""
        covered = self.residue["ground_covered"].sel(sow=sow, residue=name)
        return in_fields.days_ranges(
            covered.isel(day=slice(1, None)).transpose("year", "day").values,
            share,
            self.biomass(sow),
            self.falls[f"days_above_{100 * share:.0f}"].sel(sow=sow, residue=name).values,
            self.errors,
        )

    def heavy(self, sow: str, name: str) -> tuple[float, float]:
        """Return the chance that residue holds back small weeds, and for how many days then."""
        on_ground = self.residue["ground_residue_kg_ha"].sel(sow=sow, residue=name)
        return in_fields.heavy(
            on_ground.isel(day=slice(1, None)).transpose("year", "day").values,
            HEAVY,
            self.biomass(sow),
            self.errors,
        )


def cover(stands: xr.Dataset, residue: xr.Dataset, errors: ModelErrors = SHIPPED) -> Cover:
    """Gather what residue comes to.

    Parameters
    ----------
    stands : Dataset(year, sow)
        From `compare`, one plan but for sowing selected, one dated end.
    residue : Dataset(year, sow, residue, day)
        From `simulator.season.residue_decay.follow` of the same.
    errors : ModelErrors

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
        f"{int(year)}: {_why_followed_no_longer(residue, int(year), int(count))}"
        for year, count in zip(residue["year"].values, followed, strict=True)
        if count < days
    ]
    early = ""
    if days < asked:
        early = (
            f"The weather of most falls ends {days} days after {ends}, of {asked} asked for: "
            "what lasts longer is given as at least so many days."
        )
    residue, stands = residue.isel(year=used, day=slice(0, days + 1)), stands.isel(year=used)
    first = min(map(str, residue["sow"].values), key=order)
    residue = keep_filled(residue, days_used(residue["year"].values.tolist(), first, ends, days))
    means = _by_day(stands, residue, errors)
    return Cover(stands, residue, by_fall(residue), means, left_out, early, errors)


def _why_followed_no_longer(residue: xr.Dataset, year: int, count: int) -> str:
    """Say how long after the end the weather of a fall is whole, and why no longer."""
    end = str(residue.attrs["end"])
    last = season_day(year, end) + count
    if str(last) == residue.attrs["last_day"]:
        return f"the weather ends {count} days after {end}."
    return f"the weather has a gap {count + 1} days after {end}, on {last + 1}."


def main_lie(found: Cover) -> str:
    """Name the way to lie that sentences and the longer tables speak of."""
    names = [str(name) for name in found.residue["residue"].values]
    return "rolled" if "rolled" in names else names[0]


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
        units="d", long_name="days heavy enough to suppress small weeds"
    )
    mass = residue["shoot_residue_kg_ha"]
    half = mass <= 0.5 * mass.isel(day=0)
    found["days_to_half"] = (
        half.argmax("day")
        .where(half.any("day"))
        .assign_attrs(units="d", long_name="days until half of the shoots' dry matter is gone")
    )
    return xarray.Dataset(found, attrs=residue.attrs)


def _by_day(stands: xr.Dataset, residue: xr.Dataset, errors: ModelErrors) -> xr.Dataset:
    """Means over falls day by day, with the ranges of cover."""
    means = residue[list(BY_DAY)].mean("year", keep_attrs=True)
    ends = cover_by_day(stands, residue, errors)
    dims = means["ground_covered"].dims
    together = "the same, {} end of 8 in 10 in a field like these, weather and field together"
    for name, values in ends.items():
        end = name.rpartition("_")[2]
        weather = name.startswith("weather")
        meaning = f"the same, {end} end of 8 in 10 falls" if weather else together.format(end)
        means[name] = (dims, values, {"units": "1", "long_name": meaning})
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
