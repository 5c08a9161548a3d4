"""What it is worth to know the kind of year when the time of the nitrogen is chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.answers.response.calculate import spoken_rate
from simulator.answers.shared.field_ranges import Ranges, chance_in_fields, difference_ranges
from simulator.parameters.model_error import RESPONSE, ModelError

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

TIE = 1e-6  # kg/ha of biomass: a timing this little better is as good


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
    switches : dict of str to Ranges
        For each kind in which another timing than the single one is chosen: what that gains over
        the single one in a fall of the kind.
    chances : dict of str to float
        For the same kinds: the chance that it gains at all, weather and field together, 0 to 1.
    """

    single: int
    by_kind: dict[str, int]
    known_kind: float
    left_out: float
    perfect: float
    hit_rate: float | None
    with_hit_rate: float
    switches: dict[str, Ranges]
    chances: dict[str, float]

    @property
    def is_clear(self) -> bool:
        """Whether in some kind another timing is the better beyond the model's error."""
        return any(ranges.is_clear for ranges in self.switches.values())


def forecast_value(
    values: NDArray[np.float64],
    kinds: Sequence[str],
    hit_rate: float | None = None,
    error: ModelError = RESPONSE,
) -> ForecastValue | None:
    """Work out what a forecast of the kind of year is worth.

    Parameters
    ----------
    values : array (fall, timing)
        What each timing makes in each fall.
    kinds : sequence of str (fall,)
    hit_rate : float, optional
        0 to 1.
    error : ModelError
        How far off differences are.

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
    by_kind = {
        label: single if row[single] >= row.max() - TIE else int(row.argmax())
        for label, row in zip(labels, means, strict=True)
    }
    gains = {
        label: (values[:, at] - values[:, single])[member[labels.index(label)] > 0.0]
        for label, at in by_kind.items()
        if at != single
    }
    return ForecastValue(
        single=single,
        by_kind=by_kind,
        known_kind=float(chance @ (means.max(axis=1) - means[:, single])),
        left_out=_left_out(values, member),
        perfect=float((values.max(axis=1) - values[:, single]).mean()),
        hit_rate=hit_rate,
        with_hit_rate=informed,
        switches={label: difference_ranges(gain, error) for label, gain in gains.items()},
        chances={label: chance_in_fields(gain, 0.0, error=error) for label, gain in gains.items()},
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
    plans: xr.Dataset,
    sow: str,
    kinds: Mapping[int, str],
    hit_rate: float | None = None,
    error: ModelError = RESPONSE,
) -> ForecastValue | None:
    """Return what a forecast is worth to one sowing, at the spoken rate.

    Parameters
    ----------
    plans : Dataset
        From `one_plan`.
    sow : str
    kinds : mapping of int to str
        Falls without a kind are left aside.
    hit_rate : float, optional
    error : ModelError
    """
    biomass = plans["biomass_kg_ha"].sel(sow=sow, nitrogen=spoken_rate(plans))
    biomass = biomass.transpose("year", "nitrogen_timing")
    years = plans["year"].values.tolist()
    kept = [
        i for i, year in enumerate(years) if year in kinds and np.isfinite(biomass.values[i]).all()
    ]
    return forecast_value(biomass.values[kept], [kinds[years[i]] for i in kept], hit_rate, error)
