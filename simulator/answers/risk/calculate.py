"""How surely plans reach a target, by kind of year, how late they may be sown, and nitrate lost.

A chance is of weather and field together. The share of falls, which is the weather's alone, stands
beside it, with an interval that says how small a sample the falls are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from simulator.answers.risk.chance import Values, chances, groups_of, meaning_of
from simulator.answers.risk.latest import Sought, latest_sowing, span_sought
from simulator.answers.risk.leaching_index import LeachingIndex, leaching_index_of
from simulator.answers.shared.few_falls import FEWEST
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.parameters.soils import previous_crop as find_crop
from simulator.parameters.soils import soil as find_soil
from simulator.problems import fault
from simulator.season.compare import compare
from simulator.season.compiling import Announce
from simulator.season.layout import BareSoil
from simulator.season.plan import order
from simulator.weather.fall_year import usable_years
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

FIELDS = (
    "biomass_kg_ha",
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "stand_alive",
    "growth_stage_zadoks",
)  # of a season, what is asked of it here


@dataclass(frozen=True, kw_only=True)
class Risk:
    """The risk of plans at one place.

    Parameters
    ----------
    site : str
    target : float
        [kg/ha].
    often : float
        Chance that the latest sowing still has.
    grid : Dataset
        From `compare`: a fall at a time.
    table : Dataset(kind, sow, seeding, nitrogen, nitrogen_timing, end)
        The groups of falls: all of them, each kind of year, the forecast.
    groups : dict of str to (year,) float
        Weights of the falls in each group.
    sought : tuple of str or None
        First and last sowing sought, MM-DD; None where the latest was not sought.
    index : LeachingIndex or None
    recorded : int or None
        Falls of the record from which generated ones were made; None for recorded falls.
    errors : ModelErrors
        How far off the model is.
    headed : tuple of str
        Sentences on when an early or a late variety heads.
    """

    site: str
    target: float
    often: float
    grid: xr.Dataset
    table: xr.Dataset
    groups: dict[str, Values]
    sought: tuple[str, str] | None
    index: LeachingIndex | None
    recorded: int | None = None
    errors: ModelErrors = SHIPPED
    headed: tuple[str, ...] = ()

    @property
    def worth(self) -> float:
        """How many recorded falls one fall of the grid stands for: 1, or less where generated."""
        return worth_of(self.grid.sizes["year"], self.recorded)

    def without_falls(self) -> Risk:
        """Return it without the single falls, for one of thousands of places."""
        return replace(self, grid=self.grid.drop_vars(list(self.grid.data_vars)))


def worth_of(falls: int, recorded: int | None) -> float:
    """Return how many recorded falls one fall stands for; generating more adds no knowledge."""
    return 1.0 if recorded is None else min(1.0, recorded / falls)


def risk_at(
    record: xr.Dataset,
    plans: Mapping[str, Any],
    field: Mapping[str, Any],
    *,
    target: float,
    often: float = 0.8,
    years: Sequence[int] | None = None,
    kinds: Mapping[int, str] | None = None,
    weights: Mapping[str, float] | None = None,
    latest: bool = True,
    bare: bool | BareSoil = False,
    recorded: int | None = None,
    errors: ModelErrors = SHIPPED,
    announce: Announce | None = None,
) -> Risk:
    """Work out the risk of plans at a place.

    Parameters
    ----------
    record : Dataset(time)
    plans, field : mapping
        Arguments of `compare`: sow, seeding, ...; cereal, soil, ...
    target : float
        Biomass to reach [kg/ha].
    often : float
        Chance that the latest sowing is to have.
    years : sequence of int, optional
        Fall years; all that can be used without it.
    kinds : mapping of int to str, optional
        Fall year -> kind.
    weights : mapping of str to float, optional
        A forecast: kind -> chance.
    latest : bool
        Whether to seek the latest sowing, which takes ten times as long as all else.
    bare : bool or BareSoil
        Whether bare soil is to stand beside the plans, as in `compare`.
    recorded : int, optional
        Falls from which the record was generated: no interval is narrower than so many allow.
    errors : ModelErrors
        How far off the model is.
    announce : callable, optional
        As in `compare`.

    Returns
    -------
    Risk

    Raises
    ------
    InputError
        Fewer than `FEWEST` falls; falls without a kind; what `compare` finds.
    """
    grid = compare(record, **plans, **field, years=years, bare=bare, announce=announce)
    one = risk_in(
        grid,
        target=target,
        often=often,
        kinds=kinds,
        weights=weights,
        recorded=recorded,
        errors=errors,
    )
    if not latest:
        return one
    falls = grid["year"].values.tolist()
    crop = find_crop(field.get("previous_crop", "cotton"))
    sought = span_sought(record, plans, falls, int(crop.soil_test_day))
    sowings = Sought(
        plans=plans,
        field=field,
        target=target,
        often=often,
        falls=falls,
        groups=one.groups,
        between=sought,
        error=errors.level,
    )
    found = latest_sowing(record, sowings)
    beside = {
        name: values.broadcast_like(one.table["falls"]).assign_attrs(meaning_of(name))
        for name, values in found.items()
    }
    ground = find_soil(field.get("soil", "sandy loam"))
    return replace(
        one,
        table=one.table.assign(beside),
        sought=sought,
        index=leaching_index_of(record, ground.curve_number),
    )


def risk_in(
    grid: xr.Dataset,
    *,
    target: float,
    often: float = 0.8,
    kinds: Mapping[int, str] | None = None,
    weights: Mapping[str, float] | None = None,
    recorded: int | None = None,
    errors: ModelErrors = SHIPPED,
) -> Risk:
    """Work out the risk of plans at a place from their seasons, without the latest sowing.

    Parameters
    ----------
    grid : Dataset(year, sow, seeding, nitrogen, nitrogen_timing, end)
        From `compare`, or of a place of a grid.
    target, often, kinds, weights, recorded, errors
        As in `risk_at`.

    Returns
    -------
    Risk

    Raises
    ------
    InputError
        Fewer than `FEWEST` falls; falls without a kind.
    """
    falls = grid["year"].values.tolist()
    known = len(falls) if recorded is None else min(len(falls), recorded)
    if known < FEWEST:
        which = ", ".join(map(str, falls)) if recorded is None else "recorded ones"
        raise fault(
            f"weather of {grid.attrs['site']}",
            f"A chance needs at least {FEWEST} falls; the weather has {known} that can be "
            f"used ({which}).{_not_used(grid.attrs.get('left_out', []))}",
            "Give a longer or fuller record; 'fallsown compare' shows single falls.",
        )
    groups = groups_of(falls, kinds, weights)
    table = chances(grid, target, groups, worth=worth_of(len(falls), recorded), error=errors.level)
    return Risk(
        site=str(grid.attrs["site"]),
        target=target,
        often=often,
        grid=grid,
        table=table.assign_attrs(grid.attrs),
        groups=groups,
        sought=None,
        index=None,
        recorded=recorded,
        errors=errors,
    )


def _not_used(left_out: Sequence[str]) -> str:
    """Name the first of the falls that have a gap, and how many more there are."""
    if not left_out:
        return ""
    more = f", and {len(left_out) - 1} more have gaps" if left_out[1:] else ""
    return f" Left out is {left_out[0].rstrip('.')}{more}."


def whole_falls(record: xr.Dataset, sowings: Sequence[str], ends: Sequence[str]) -> int:
    """Count the falls of a record that are whole from the first sowing to the last dated end."""
    first = min(sowings, key=order)
    last = max([first, *(end for end in ends if "-" in end)], key=order)
    return len(usable_years(fill_short_gaps(checked(record)), first, last)[0])
