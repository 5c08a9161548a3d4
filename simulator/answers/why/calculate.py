"""What made one year differ: its weather exchanged piece by piece for that of other years."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.why.exchanged import PIECES, Array, mixtures, weather_on
from simulator.answers.why.months import Month, months_of, spans_of
from simulator.answers.why.shapley import shapley
from simulator.parameters import cereals, fertilizers, soils
from simulator.problems import Parameter, Text, fault
from simulator.season import plan as plans
from simulator.season.compare import compare
from simulator.season.compiling import Announce
from simulator.season.ensemble import DatedPlan, grow_seasons
from simulator.season.seasons import Seasons, cut_seasons, latitude_of
from simulator.show import wording
from simulator.weather.files.record_check import checked
from simulator.weather.record import NAMES, fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

BIOMASS, RESPONSE, LEACHED = OUTCOMES = ("biomass", "nitrogen response", "nitrate leached")
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
    shares : dict of str to array (piece, other)
        How much each of `PIECES` made of the difference to each other year; summed over pieces
        they are ``here - usual`` of it.
    lost : (float, float)
        Applied nitrogen that had leached by ``lost_by``: that year's and the others' mean.
    lost_by : str
        Christmas, or the end where the nitrogen goes on after it; MM-DD.
    spans : dict of str to (str, str)
        First and last day, MM-DD, of each of `SEASONS` that the soil's account reaches.
    months : tuple of Month
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
    lost: tuple[float, float]
    lost_by: str
    spans: dict[str, tuple[str, str]]
    months: tuple[Month, ...]
    about: dict[str, Any]
    left_out: list[str]
    chosen: bool

    def difference(self, outcome: str) -> float:
        """Return that year's less the mean of the others [kg/ha]."""
        return self.here[outcome] - float(self.usual[outcome].mean())

    def share(self, outcome: str, piece: str) -> float:
        """Return what a piece made of the difference, as a mean over the other years [kg/ha]."""
        return float(self.shares[outcome][PIECES.index(piece)].mean())

    def weather(self, piece: str) -> tuple[float, float]:
        """Return that year's mean temperature [degC] or rain [mm] of a piece, and the usual."""
        season, what = piece.split()
        months = [month for month in self.months if month.season == season]
        if what == "rain":
            pairs = [(month.rain, 1.0) for month in months]
        else:
            days = sum(month.days for month in months)
            pairs = [(month.temperature, month.days / days) for month in months]
        here, usual = (sum(pair[k] * weight for pair, weight in pairs) for k in (0, 1))
        return here, usual

    def remarkable(self, outcome: str) -> float:
        """How far out that year lies, in standard deviations of the others; 0 for one other."""
        if len(self.others) < 2:
            return 0.0
        spread = float(self.usual[outcome].std(ddof=1))
        return abs(self.difference(outcome)) / spread if spread > 0 else 0.0


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
    announce: Announce | None = None,
) -> Why:
    """Share out what made a year differ from this place's usual among pieces of its weather.

    Fall runs to 30 November, winter from 1 December to the end of February, spring from 1 March
    to the end of the stand; of each, temperature and rain are exchanged apart. A season is grown
    for every set of pieces taken from the year, the others from each other year in turn, and the
    differences are shared by Shapley's value.

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

    looked = [CHRISTMAS] if _before_christmas(plan.sow, plan.timing, plan.end) else []
    at = seasons.years.index(year)
    stand = DatedPlan(
        year=year,
        first=int(seasons.spans[at, 0]),
        latitude=latitude_of(record),
        sow=plan.sow,
        seeding=plan.seeding,
        rates=plan.rates,
        timing=plan.timing,
        ends=[*looked, plan.end],
        **sets,
    )
    own, other = weather_on(seasons, [year], year), weather_on(seasons, others, year)
    worth, lost = _outcomes(stand, mixtures(own, other, year), announce)
    return Why(
        year=year,
        others=tuple(others),
        here={name: float(values[-1, 0]) for name, values in worth.items()},
        usual={name: values[0] for name, values in worth.items()},
        shares={name: shapley(values) for name, values in worth.items()},
        lost=(float(lost[-1, 0]), float(lost[0].mean())),
        lost_by=stand.ends[0],
        spans=spans_of(stand),
        months=months_of(own[:, 0], other, stand),
        about=_about(record, stand, nitrogen_timing),
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


def _outcomes(
    stand: DatedPlan, mixed: Array, announce: Announce | None
) -> tuple[dict[str, Array], Array]:
    """Grow a stand in mixed weather: outcomes, and nitrogen lost early, (set, other year)."""
    grown = grow_seasons(stand, *mixed.reshape(len(NAMES), -1, mixed.shape[-1]), announce=announce)
    grown = grown.reshape(*mixed.shape[1:3], len(stand.rates), len(stand.ends))
    at_end = grown[..., -1]
    worth = {
        BIOMASS: at_end["biomass_kg_ha"][..., -1],
        RESPONSE: at_end["biomass_kg_ha"][..., -1] - at_end["biomass_kg_ha"][..., 0],
        LEACHED: at_end["nitrate_leached_kg_ha"][..., -1],
    }
    leached = grown["nitrate_leached_kg_ha"][..., 0]
    return worth, leached[..., -1] - leached[..., 0]


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
    part = grid.squeeze(["sow", "seeding", "nitrogen_timing", "end"])
    biomass = part["biomass_kg_ha"].transpose("year", "nitrogen").values
    leached = part["nitrate_leached_kg_ha"].transpose("year", "nitrogen").values[:, -1]
    outcomes = np.stack([biomass[:, -1], biomass[:, -1] - biomass[:, 0], leached])
    spread = outcomes.std(axis=1, keepdims=True)
    apart = np.divide(
        outcomes - outcomes.mean(axis=1, keepdims=True),
        spread,
        out=np.zeros_like(outcomes),
        where=spread > 0,
    )
    # a year whose soil starts before all others' has none to be compared with
    alone = np.array([not _others(seasons, year)[0] for year in seasons.years])
    return seasons.years[int(np.argmax(np.where(alone, -1.0, (apart**2).sum(axis=0))))]


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
    last = max(plans.day_number(plans.ANY_YEAR, one.when or sow) for one in timing)
    christmas = plans.day_number(plans.ANY_YEAR, CHRISTMAS)
    return last < christmas < plans.day_number(plans.ANY_YEAR, end)
