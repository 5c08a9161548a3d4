"""What made one year differ: its weather exchanged month by month for that of other years."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.shared.field_ranges import Ranges, difference_ranges
from simulator.answers.why.exchanged_weather import Array, weather_on
from simulator.answers.why.month_shares import LEACHED, share_out
from simulator.answers.why.months import Month, months_of, spans_of
from simulator.parameters import cereals, fertilizers, soils
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.problems import Parameter, Text, fault
from simulator.season import plan as plans
from simulator.season.compare import compare
from simulator.season.compiling import Announce
from simulator.season.ensemble import DatedPlan
from simulator.season.seasons import Seasons, cut_seasons, irrigation_of, latitude_of
from simulator.show import wording
from simulator.weather.fall_year import keep_filled
from simulator.weather.files.record_check import checked
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

CHRISTMAS = "12-25"
FEWEST = 10  # other falls below which "usual" is hardly known


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """What made a year differ.

    Parameters
    ----------
    year : int
    others : tuple of int
        Fall years that stand for what is usual.
    here : dict of str to float
        That year's biomass with the nitrogen, nitrogen response (biomass more than without) and
        nitrate leached since the soil's start [kg/ha].
    usual : dict of str to array (other,)
        The same of each other year, on that year's calendar.
    shares : dict of str to array (month, what)
        How much each month's rain, and its temperature, made of the difference to the other
        years' mean; all together they are that difference.
    by_itself : dict of str to array (month,)
        What that year made more than with one month's weather exchanged for each other year's,
        on the mean.
    totals : dict of str to array (month,)
        The same, but with the month's own days brought to the usual rain and mean temperature.
    totals_by : dict of str to array (month, what)
        The same, with the rain alone so brought, and with the temperature alone.
    lost : (float, float)
        Applied nitrogen that had leached by ``lost_by``: that year's and the others' mean.
    stood : dict of str to (float, float)
        Fields of the record that tell of the plants: that year's and the others' mean.
    lost_by : str
        Christmas, or the end where the nitrogen goes on after it; MM-DD.
    months : tuple of Month
    grown : int
        Seasons that were grown for it.
    errors : ModelErrors
        How far off the model is.
    about : dict
        Provenance and plan.
    left_out : list of str
        Years that could not serve, with the reason.
    chosen : bool
        Whether the year was chosen for differing most.
    """

    year: int
    others: tuple[int, ...]
    here: dict[str, float]
    usual: dict[str, Array]
    shares: dict[str, Array]
    by_itself: dict[str, Array]
    totals: dict[str, Array]
    totals_by: dict[str, Array]
    lost: tuple[float, float]
    stood: dict[str, tuple[float, float]]
    lost_by: str
    months: tuple[Month, ...]
    grown: int
    errors: ModelErrors
    about: dict[str, Any]
    left_out: list[str]
    chosen: bool

    def difference(self, outcome: str) -> float:
        """Return that year's less the mean of the others [kg/ha]."""
        return self.here[outcome] - float(self.usual[outcome].mean())

    def by_month(self, outcome: str) -> Array:
        """Return what each month made of the difference, its rain and temperature together."""
        return np.asarray(self.shares[outcome].sum(axis=1))

    def ranges(self, outcome: str) -> Ranges:
        """Return between what the difference lies in a field like these [kg/ha].

        Nobody has tried how far off leaching is: of it both ends are NaN.
        """
        if outcome == LEACHED:
            return Ranges(*[float("nan")] * 4)
        return difference_ranges(np.array([self.difference(outcome)]), self.errors.response)


def why(
    record: xr.Dataset,
    *,
    year: int | None = None,
    years: Iterable[int] | None = None,
    sow: str = "10-20",
    seeding: str = "90 lb/acre",
    nitrogen: str = "60 lb/acre",
    nitrogen_timing: str = "sowing",
    end: str = "04-15",
    cereal: str | cereals.Cereal = "rye",
    soil: str | soils.Soil = "sandy loam",
    previous_crop: str | soils.PreviousCrop = "cotton",
    fertilizer: str | fertilizers.Fertilizer = "ammonium nitrate",
    errors: ModelErrors = SHIPPED,
    announce: Announce | None = None,
) -> Why:
    """Share out what made a year differ from this place's usual among its months' weather.

    Of each month from the soil's start to the end of the stand, rain and temperature are
    exchanged apart. Seasons are grown with some of these pieces from the year and the others
    from each other year in turn, and the differences are shared by Shapley's value.

    Parameters
    ----------
    record : Dataset(time)
    year : int, optional
        Fall year; without it the one that differs most.
    years : iterable of int, optional
        Fall years that stand for the usual; all of the record without it.
    sow, seeding, nitrogen, nitrogen_timing, end : str
        The plan; the end is a date.
    cereal, soil, previous_crop, fertilizer : str or parameter set
    errors : ModelErrors
        How far off the model is.
    announce : callable, optional

    Returns
    -------
    Why

    Raises
    ------
    InputError
        An end that is no date, a year that cannot be run, no other year to compare with.

    Notes
    -----
    All seasons lie on the year's own calendar: where it has no 29 February, another year's is
    left out and its rain falls on the 28th; where it has one and another year has not, that day
    has the mean temperature of its neighbours and no rain.
    """
    record = fill_short_gaps(checked(record))
    plan = _read_plan(sow, seeding, nitrogen, nitrogen_timing, end)
    sets: dict[str, Any] = {
        "cereal": cereals.cereal(cereal),
        "soil": soils.soil(soil),
        "previous_crop": soils.previous_crop(previous_crop),
        "fertilizer": fertilizers.fertilizer(fertilizer),
    }
    wanted = None if years is None else sorted({*years, *([] if year is None else [year])})
    seasons = cut_seasons(record, wanted, [plan.sow], [plans.end(plan.end)])
    chosen = year is None
    if year is None:
        year = _most_different(_grid(record, plan, sets, seasons.years, announce), seasons)
    others, late = _compared_with(seasons, year)

    first = int(seasons.spans[seasons.years.index(year), 0])
    stand = _stand(plan, sets, year, first, record)
    own, other = weather_on(seasons, [year], year)[:, 0], weather_on(seasons, others, year)
    spans = spans_of(stand)
    found = share_out(stand, own, other, spans, announce)
    return Why(
        year=year,
        others=tuple(others),
        here=found.here,
        usual=found.usual,
        shares=found.shares,
        by_itself=found.by_itself,
        totals=found.totals,
        totals_by=found.totals_by,
        lost=found.lost,
        stood=found.stood,
        lost_by=stand.ends[0],
        months=months_of(own, other, spans, year),
        grown=found.grown,
        errors=errors,
        about=_about(keep_filled(record, seasons.days()), stand, nitrogen_timing),
        left_out=[*seasons.left_out, *late],
        chosen=chosen,
    )


@dataclass(frozen=True, slots=True)
class _Plan:
    """A plan, read: dates MM-DD, rates [kg/ha], of nitrogen none first."""

    sow: str
    end: str
    seeding: float
    rates: list[float]
    timing: tuple[plans.Dressing, ...]
    timing_text: str


def _read_plan(sow: str, seeding: str, nitrogen: str, nitrogen_timing: str, end: str) -> _Plan:
    stop = plans.end(end)
    if stop.date is None:
        raise fault(
            Parameter("end"),
            f"'{end}' is not a date.",
            "Made-up seasons are compared on a date, such as 04-15.",
        )
    sow = plans.month_day(sow, name=Parameter("sow"))
    timing = plans.dressings(nitrogen_timing)
    plans.check_order([sow], [timing], [stop])
    (seed,), (rate,) = plans.seeding_rates(seeding), plans.nitrogen_rates(nitrogen)
    rates = [0.0, rate] if rate > 0 else [0.0]
    return _Plan(sow, stop.date, seed, rates, timing, nitrogen_timing)


def _stand(
    plan: _Plan, sets: dict[str, Any], year: int, first: int, record: xr.Dataset
) -> DatedPlan:
    """Return what is grown, looked at by Christmas too where all the nitrogen is on by then."""
    looked = [CHRISTMAS] if _before_christmas(plan.sow, plan.timing, plan.end) else []
    return DatedPlan(
        year=year,
        first=first,
        latitude=latitude_of(record),
        sow=plan.sow,
        seeding=plan.seeding,
        rates=plan.rates,
        timing=plan.timing,
        irrigation=irrigation_of(record),
        ends=[*looked, plan.end],
        **sets,
    )


def _grid(
    record: xr.Dataset,
    plan: _Plan,
    sets: dict[str, Any],
    years: Sequence[int],
    announce: Announce | None,
) -> xr.Dataset:
    """Grow the plan in the years as they were."""
    return compare(
        record,
        **sets,
        sow=[plan.sow],
        seeding=[f"{plan.seeding!r} kg/ha"],
        nitrogen=[f"{one!r} kg/ha" for one in plan.rates],
        nitrogen_timing=[plan.timing_text],
        end=[plan.end],
        years=years,
        announce=announce,
    )


def _compared_with(seasons: Seasons, year: int) -> tuple[list[int], list[str]]:
    """Return the years that one is compared with, and why others are not.

    Raises
    ------
    InputError
        The year cannot be run, or there is no other.
    """
    if year not in seasons.years:
        reason = next(
            (t for t in seasons.left_out if t.startswith(f"{year}:")), f"{year}: not in the record"
        )
        raise fault(
            Parameter("year"),
            f"The season of {reason.rstrip('.')}.",
            f"This record has {wording.falls(seasons.years)}.",
        )
    others, late = _others(seasons, year)
    if not others:
        raise fault(
            Parameter("year"),
            f"There is no other fall to compare {year} with.",
            Text("Give a record, or ", Parameter("years"), ", of at least two whole seasons."),
        )
    return others, late


def _about(record: xr.Dataset, stand: DatedPlan, timing: str) -> dict[str, Any]:
    """Provenance and plan, named as the attributes of a season are."""
    kept = {name: value for name, value in record.attrs.items() if value not in (None, "")}
    return {
        **kept,
        "year": stand.year,
        "cereal": stand.cereal.name,
        "soil": stand.soil.name,
        "previous_crop": stand.previous_crop.name,
        "fertilizer": stand.fertilizer.name,
        "sow": stand.sow,
        "seeding_kg_ha": stand.seeding,
        "nitrogen_kg_ha": stand.rates[-1],
        "nitrogen_timing": timing,
        "end": stand.ends[-1],
        "soil_from": plans.month_day_of(stand.year, stand.first),
    }


def _most_different(grid: xr.Dataset, seasons: Seasons) -> int:
    """Return the year furthest out in biomass, response and leaching together.

    Each is counted in its standard deviations; the squares are added.
    """
    plan_grid = grid.squeeze(["sow", "seeding", "nitrogen_timing", "end"])
    biomass = plan_grid["biomass_kg_ha"].transpose("year", "nitrogen").values
    leached = plan_grid["nitrate_leached_kg_ha"].transpose("year", "nitrogen").values[:, -1]
    outcomes = np.stack([biomass[:, -1], biomass[:, -1] - biomass[:, 0], leached])
    spread = outcomes.std(axis=1, keepdims=True)
    apart = np.divide(
        outcomes - outcomes.mean(axis=1, keepdims=True),
        spread,
        out=np.zeros_like(outcomes),
        where=spread > 0,
    )
    # a year whose soil starts before all others' has none to be compared with
    without_usual = np.array([not _others(seasons, year)[0] for year in seasons.years])
    return seasons.years[int(np.argmax(np.where(without_usual, -1.0, (apart**2).sum(axis=0))))]


def _others(seasons: Seasons, year: int) -> tuple[list[int], list[str]]:
    """Return the years whose weather is whole where that year's is, and why others are not."""
    first = seasons.spans[seasons.years.index(year), 0]
    fit, late = [], []
    for other, (begins, _) in zip(seasons.years, seasons.spans, strict=True):
        if other == year:
            continue
        if begins <= first:
            fit.append(other)
        else:
            starts = plans.date_of(other, int(begins))
            late.append(f"{other}: its weather begins on {starts}, later than that of {year}.")
    return fit, late


def _before_christmas(sow: str, timing: Sequence[plans.Dressing], end: str) -> bool:
    """Say whether all the nitrogen is on before Christmas, and the stand ended after it."""
    last = max(plans.order(one.when or sow) for one in timing)
    christmas = plans.order(CHRISTMAS)
    return last < christmas < plans.order(end)
