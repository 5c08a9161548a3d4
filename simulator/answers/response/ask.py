"""What nitrogen brings: by sowing date, by kind of year and by the time it goes on.

Everything is marginal: a rate is compared with the lowest rate of the same fall, sowing and
timing, so that what the soil gives by itself is not counted as the fertilizer's.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.shared.response_curves import Choice, choose
from simulator.answers.shared.usual_rate import ORDINARY_RATE

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

TIE = 1e-6  # kg/ha of biomass: a timing this little better is as good
ALL = "all"  # every fall, whatever its kind
# where applied nitrogen can be at the end -> fields that grow by it, fields that shrink
FATES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "shoots": (("nitrogen_uptake_kg_ha",), ()),
    "roots": (("root_nitrogen_kg_ha",), ()),
    "frost_killed": (("killed_nitrogen_kg_ha",), ()),
    "shed_leaves": (("shed_nitrogen_kg_ha",), ()),
    "leached": (("nitrate_leached_kg_ha",), ()),
    "denitrified": (("denitrified_kg_ha",), ()),
    "volatilised": (("volatilised_kg_ha",), ()),
    "left_in_soil": (("soil_nitrate_kg_ha", "soil_ammonium_kg_ha"), ()),
    # taken up by what rots, or not yet set free by it: less is mineralised than without
    "tied_up": (("litter_nitrogen_kg_ha",), ("mineralised_kg_ha",)),
}
MEANINGS = {
    "shoots": "nitrogen in living shoots",
    "roots": "nitrogen in living roots",
    "frost_killed": "nitrogen in what frost killed",
    "shed_leaves": "nitrogen in leaves that died and fell",
    "leached": "nitrate nitrogen leached",
    "denitrified": "nitrogen denitrified",
    "volatilised": "nitrogen lost as ammonia",
    "left_in_soil": "mineral nitrogen left in the soil column",
    "tied_up": "nitrogen tied up in organic matter and litter",
}


def field(fate: str) -> str:
    """Name the variable of `marginal` that holds a fate."""
    return f"applied_{fate}_kg_ha"


def one_plan(grid: xr.Dataset) -> xr.Dataset:
    """Take the first seeding rate and the last end, and only falls that every plan finished.

    Parameters
    ----------
    grid : Dataset
        From `compare` without changes.

    Returns
    -------
    Dataset(year, sow, nitrogen, nitrogen_timing)
        NaN in falls that some rate or timing of the sowing did not finish: means over other
        falls would compare the falls.
    """
    part = grid.isel(seeding=0, end=-1).transpose("year", "sow", "nitrogen", "nitrogen_timing")
    part = part.isel(nitrogen=np.argsort(part["nitrogen"].values))
    return part.where(part["biomass_kg_ha"].notnull().all(["nitrogen", "nitrogen_timing"]))


def marginal(part: xr.Dataset) -> xr.Dataset:
    """Work out what each rate brings and where it ends, over the lowest rate.

    Parameters
    ----------
    part : Dataset
        From `one_plan`.

    Returns
    -------
    Dataset
        ``gained_kg_ha`` biomass; ``applied_kg_ha`` nitrogen; and, for each of `FATES`, its part
        of that, named as `field` has it. The parts add up to what was applied, since the
        nitrogen balance of either season closes.
    """
    more = part - part.isel(nitrogen=0, drop=True)
    found = more[["biomass_kg_ha", "fertilizer_kg_ha"]].rename(
        biomass_kg_ha="gained_kg_ha", fertilizer_kg_ha="applied_kg_ha"
    )
    found["gained_kg_ha"].attrs.update(
        units="kg/ha", long_name="biomass more than at the lowest rate of nitrogen"
    )
    found["applied_kg_ha"].attrs.update(
        units="kg/ha", long_name="nitrogen applied more than at the lowest rate"
    )
    for fate, (grow, shrink) in FATES.items():
        found[field(fate)] = sum(more[name] for name in grow) - sum(more[name] for name in shrink)
        found[field(fate)].attrs.update(
            units="kg/ha", long_name=f"of the nitrogen applied: {MEANINGS[fate]}"
        )
    found.attrs = dict(part.attrs)
    return found


def spoken_rate(part: xr.Dataset) -> float:
    """Return the rate that sentences speak of [kg/ha]: above the lowest, nearest to 60 lb/ac."""
    rates: list[float] = part["nitrogen"].values.tolist()
    return min(rates[1:] or rates, key=lambda rate: abs(rate - ORDINARY_RATE))


def groups(years: Sequence[int], kinds: Mapping[int, str]) -> dict[str, list[int]]:
    """Gather falls by kind: all of them first, then each kind in the order of the alphabet."""
    found = {ALL: list(years)}
    for kind in sorted({kinds[year] for year in years if year in kinds}):
        found[kind] = [year for year in years if kinds.get(year) == kind]
    return found


@dataclass(frozen=True, slots=True)
class Response:
    """Biomass against nitrogen for one sowing and timing, as the mean over some falls.

    Parameters
    ----------
    sow, timing : str
    kind : str
        `ALL`, a kind of year, or a single year.
    falls : int
    rates, means : tuple of float
        Nitrogen and mean biomass [kg/ha].
    choice : Choice
        The curve through the means [kg/ha].
    gained : tuple of float
        What the spoken rate brings in each fall [kg/ha].
    applied : float
        That rate above the lowest [kg/ha].
    parts : dict of str to float
        Mean of each of `FATES` at that rate [kg/ha].
    """

    sow: str
    timing: str
    kind: str
    falls: int
    rates: tuple[float, ...]
    means: tuple[float, ...]
    choice: Choice
    gained: tuple[float, ...]
    applied: float
    parts: dict[str, float]

    @property
    def slope(self) -> float:
        """Biomass for each unit of nitrogen, mean up to the spoken rate; NaN without one."""
        return float(np.mean(self.gained)) / self.applied if self.falls and self.applied else np.nan

    def share(self, fate: str) -> float:
        """Share of the applied nitrogen that ends there; ``shoots`` is the recovery."""
        return self.parts[fate] / self.applied if self.applied else np.nan


def responses(
    part: xr.Dataset,
    kinds: Mapping[int, str],
    *,
    timings: Sequence[str] | None = None,
    by_year: bool = False,
) -> list[Response]:
    """Fit biomass against nitrogen for each timing, sowing and kind of year.

    Parameters
    ----------
    part : Dataset
        From `one_plan`.
    kinds : mapping of int to str
        Fall year -> kind; may be empty.
    timings : sequence of str, optional
        All that there are without it.
    by_year : bool
        For every single year in place of the kinds.

    Returns
    -------
    list of Response
        Timings outermost, then sowings, then kinds.
    """
    years = part["year"].values.tolist()
    more = marginal(part)
    rate = spoken_rate(part)
    wanted = {str(year): [year] for year in years} if by_year else groups(years, kinds)
    rates = tuple(part["nitrogen"].values.tolist())
    spoken = rates.index(rate)
    found = []
    for timing in timings or list(map(str, part["nitrogen_timing"].values)):
        for sow in map(str, part["sow"].values):
            at = {"sow": sow, "nitrogen_timing": timing}
            biomass = part["biomass_kg_ha"].sel(at).values
            here = {name: more[name].sel(at).values[:, spoken] for name in more.data_vars}
            for kind, members in wanted.items():
                among = np.isin(years, members) & np.isfinite(biomass[:, 0])
                means = _mean(biomass[among])
                found.append(
                    Response(
                        sow,
                        timing,
                        kind,
                        int(among.sum()),
                        rates,
                        tuple(means.tolist()),
                        choose(rates, means.tolist()),
                        tuple(here["gained_kg_ha"][among].tolist()),
                        float(_mean(here["applied_kg_ha"][among])),
                        {fate: float(_mean(here[field(fate)][among])) for fate in FATES},
                    )
                )
    return found


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over falls, the first axis; NaN where there are none."""
    if not len(values):
        return np.full(values.shape[1:], np.nan)
    return np.asarray(values.mean(axis=0))


@dataclass(frozen=True, slots=True)
class Pair:
    """A later sowing with nitrogen against an earlier one at the lowest rate [kg/ha].

    Parameters
    ----------
    later, earlier, timing : str
    base : float
        The lowest rate.
    target : float
        Mean biomass of the earlier sowing at that rate.
    rate : float
        With which the later sowing makes as much on average; NaN where no rate tried does.
    most, most_rate : float
        The later sowing's highest mean, and its rate.
    reached, falls : int
        In how many of the falls the later sowing, with that rate (or its best), makes at least
        as much.
    """

    later: str
    earlier: str
    timing: str
    base: float
    target: float
    rate: float
    most: float
    most_rate: float
    reached: int
    falls: int


def equal_pairs(part: xr.Dataset, timing: str) -> list[Pair]:
    """Find the rates with which later sowings equal earlier ones without nitrogen.

    Between the rates tried the means are joined by straight lines.

    Parameters
    ----------
    part : Dataset
        From `one_plan`, sowings in any order.
    timing : str

    Returns
    -------
    list of Pair
        Earlier sowings outermost, in the order of the season.
    """
    from simulator.season.plan import ANY_YEAR, day_number

    biomass = part["biomass_kg_ha"].sel(nitrogen_timing=timing)
    rates = part["nitrogen"].values
    sowings = sorted(map(str, part["sow"].values), key=lambda date: day_number(ANY_YEAR, date))
    found = []
    for place, earlier in enumerate(sowings):
        for later in sowings[place + 1 :]:
            early = biomass.sel(sow=earlier).values[:, 0]
            late = biomass.sel(sow=later).values
            known = np.isfinite(early) & np.isfinite(late[:, 0])
            if not known.any():
                continue
            early, late = early[known], late[known]
            means, target = late.mean(axis=0), float(early.mean())
            rate, best = rate_reaching(rates, means, target), int(np.argmax(means))
            at = rate if np.isfinite(rate) else float(rates[best])
            made = np.array([np.interp(at, rates, fall) for fall in late])
            found.append(
                Pair(
                    later,
                    earlier,
                    timing,
                    float(rates[0]),
                    target,
                    rate,
                    float(means[best]),
                    float(rates[best]),
                    int((made >= early).sum()),
                    int(known.sum()),
                )
            )
    return found


def rate_reaching(rates: NDArray[np.float64], means: NDArray[np.float64], target: float) -> float:
    """Return the lowest rate at which the means, joined by lines, reach a target; NaN if none."""
    reached = np.flatnonzero(means >= target)
    if not reached.size:
        return float("nan")
    first = int(reached[0])
    if first == 0:
        return float(rates[0])
    low, high = means[first - 1], means[first]
    share = (target - low) / (high - low)
    return float(rates[first - 1] + share * (rates[first] - rates[first - 1]))


@dataclass(frozen=True, slots=True)
class ForecastValue:
    """What it is worth to know the kind of year when the time of the nitrogen is chosen [kg/ha].

    Parameters
    ----------
    single : int
        The timing with the highest mean over all falls.
    by_kind : dict of str to int
        The timing with the highest mean in each kind; the single one where it is as good.
    known_kind : float
        Mean gain of choosing by the kind, known for certain, over the single timing; the choice
        and its gain are of the same falls, so it flatters.
    left_out : float
        The same with each fall left out when its timing is chosen; may be below 0.
    perfect : float
        Mean gain of choosing the best timing of every single fall: no forecast can give more.
    hit_rate : float or None
        Share of falls in which a forecast names the right kind; the wrong kinds are then named
        alike often.
    with_hit_rate : float
        Mean gain of the best choice on such a forecast; NaN without a hit rate.
    """

    single: int
    by_kind: dict[str, int]
    known_kind: float
    left_out: float
    perfect: float
    hit_rate: float | None
    with_hit_rate: float


def forecast_value(
    values: NDArray[np.float64], kinds: Sequence[str], hit_rate: float | None = None
) -> ForecastValue | None:
    """Work out what a forecast of the kind of year is worth.

    Parameters
    ----------
    values : array (fall, timing)
        What each timing makes in each fall.
    kinds : sequence of str (fall,)
    hit_rate : float, optional
        0 to 1.

    Returns
    -------
    ForecastValue or None
        None with fewer than two timings or kinds.

    References
    ----------
    The expected value of sample information: Raiffa & Schlaifer (1961), Applied Statistical
    Decision Theory, ch. 4.
    """
    labels = sorted(set(kinds))
    if len(labels) < 2 or values.shape[1] < 2:
        return None
    member = np.array([[kind == label for kind in kinds] for label in labels], float)
    chance = member.mean(axis=1)
    means = (member @ values) / member.sum(axis=1, keepdims=True)  # kind, timing
    overall = chance @ means
    single = int(overall.argmax())
    informed = float("nan")
    if hit_rate is not None:
        wrong = (1.0 - hit_rate) / (len(labels) - 1)
        named = np.where(np.eye(len(labels), dtype=bool), hit_rate, wrong)  # forecast, kind
        by_forecast = (named * chance) @ means
        informed = float((by_forecast.max(axis=1) - by_forecast[:, single]).sum())
    return ForecastValue(
        single=single,
        by_kind={
            label: single if row[single] >= row.max() - TIE else int(row.argmax())
            for label, row in zip(labels, means, strict=True)
        },
        known_kind=float(chance @ (means.max(axis=1) - means[:, single])),
        left_out=_left_out(values, member),
        perfect=float((values.max(axis=1) - values[:, single]).mean()),
        hit_rate=hit_rate,
        with_hit_rate=informed,
    )


def _left_out(values: NDArray[np.float64], member: NDArray[np.float64]) -> float:
    """Gain of choosing by kind over a single timing, both chosen without the fall itself."""
    count = len(values)
    if count < 2:
        return float("nan")
    gains = np.empty(count)
    for fall in range(count):
        others = values.sum(axis=0) - values[fall]
        same = member[int(member[:, fall].argmax())]
        alike = same @ values - values[fall]
        by_kind = int(alike.argmax()) if same.sum() > 1 else int(others.argmax())
        gains[fall] = values[fall, by_kind] - values[fall, int(others.argmax())]
    return float(gains.mean())


def timing_value(
    part: xr.Dataset, sow: str, kinds: Mapping[int, str], hit_rate: float | None = None
) -> ForecastValue | None:
    """Return what a forecast is worth to one sowing, at the spoken rate.

    Parameters
    ----------
    part : Dataset
        From `one_plan`.
    sow : str
    kinds : mapping of int to str
        Falls without a kind are left aside.
    hit_rate : float, optional
    """
    biomass = part["biomass_kg_ha"].sel(sow=sow, nitrogen=spoken_rate(part))
    biomass = biomass.transpose("year", "nitrogen_timing")
    years = part["year"].values.tolist()
    kept = [
        i for i, year in enumerate(years) if year in kinds and np.isfinite(biomass.values[i]).all()
    ]
    return forecast_value(biomass.values[kept], [kinds[years[i]] for i in kept], hit_rate)
