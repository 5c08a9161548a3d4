"""Weather made from a record: fitted and drawn day by day, or drawn season by season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator import __version__
from simulator.problems import InputError, Parameter, Problem, Text, fault
from simulator.weather.files.record_check import checked
from simulator.weather.generator.conditions import near_enough, read_conditions, scaled
from simulator.weather.generator.daily import LATEST, day_of_year, draw_days, falls, generator_of
from simulator.weather.generator.fit import WET_DAY, FittedClimatology, fit_climatology
from simulator.weather.generator.resampling import (
    SEASON,
    Seasons,
    assemble,
    block_of_days,
    draw_donors,
    seasons_of,
    spread_out,
)
from simulator.weather.record import NAMES, make_record
from simulator.weather.year_type_files import plain_kind
from simulator.weather.year_types import FALL_RAIN, WAYS, kinds_of_falls
from simulator.weather.year_weights import parse_weights, year_weights

if TYPE_CHECKING:
    import xarray as xr
    from numpy.typing import NDArray

Method = Literal["fitted", "resampled"]
FITTED, RESAMPLED = "fitted", "resampled"
METHODS = (FITTED, RESAMPLED)
FIRST_YEAR = 2001
FEW_SEASONS = 10  # to draw from, below which a warning is due
DIGITS = 2  # of fitted weather: no station reads finer, and files stay short
# Seasons made to choose from: a rare total wants many, a kind of fall is a third of them.
CANDIDATES, CANDIDATES_OF_A_KIND = 2000, 400
CANDIDATES_A_YEAR = 4  # and so many for each that is asked for


@dataclass(frozen=True, slots=True)
class Made:
    """A generated record and how it came to be.

    Parameters
    ----------
    record : Dataset
    fitted : FittedClimatology or None
        Of the method ``"fitted"``.
    donors : ndarray of int, shape (years, blocks), or None
        Fall years that lent each block, of the method ``"resampled"``.
    notes : list of str
        What was done, as sentences.
    """

    record: xr.Dataset
    fitted: FittedClimatology | None
    donors: NDArray[np.int64] | None
    notes: list[str]


def generate_weather(
    record: xr.Dataset,
    years: int = 30,
    seed: int = 1,
    method: Method = "fitted",
    *,
    first_year: int | None = None,
    blocks: str = SEASON,
    conditions: Sequence[str] = (),
    kinds: str | None = None,
    weights: str | None = None,
    kinds_season: str = "OND",
    wet_day: float = WET_DAY,
    smoothed: bool = False,
) -> xr.Dataset:
    """Make falls of weather like those of a record.

    Parameters
    ----------
    record : Dataset
        As `read_weather` or `sample_weather` gives it.
    years : int
        Falls to make, 1 to 450.
    seed : int
        Not negative; the same seed gives the same weather.
    method : {"fitted", "resampled"}
        A daily generator fitted to the record, which makes days that never were; or real seasons
        drawn anew, which keeps all that a season hangs together by and is the one to take for
        risk.
    first_year : int, optional
        The first fall's year: by default 2001, or earlier where so many falls would pass 2199.
    blocks : str
        Of ``"resampled"``: ``"season"``, ``"month"`` or ``"3 weeks"``, blocks of which are
        joined where the weather matches.
    conditions : sequence of str
        Totals of rain that each season has: ``"rain november = 11 inch"``.
    kinds : str, optional
        How falls are sorted, as `kinds_of_year` takes it; with ``"fitted"`` by their own weather
        only.
    weights : str, optional
        Chance of each kind: ``"wet 50, normal 30, dry 20"``; ``"wet 100"`` for wet falls alone.
    kinds_season : str
        Season of the Oceanic Nino Index.
    wet_day : float
        Rain from which on a day is wet, for ``"fitted"`` [mm].
    smoothed : bool
        Of ``"fitted"``: whether the means of months are drawn towards a smooth year, which a short
        record may call for, or kept.

    Returns
    -------
    Dataset, dimension time
        tmax, tmin [degC], rain [mm] from 1 August of the first fall on; ``invented`` is
        ``"yes"``, ``source`` says how it was made, ``notes`` what was done. Days of months that
        the record does not have are NaN.

    Raises
    ------
    InputError
        A record that cannot be used or is too short, or options that cannot be met.

    Examples
    --------
    >>> import simulator
    >>> made = simulator.generate_weather(simulator.sample_weather(), years=2, method="resampled")
    >>> made.attrs["site"], made.sizes["time"]
    ('Tallow Bend (generated)', 730)
    """
    return make_weather(
        record,
        years,
        seed,
        method,
        first_year=first_year,
        blocks=blocks,
        conditions=conditions,
        kinds=kinds,
        weights=weights,
        kinds_season=kinds_season,
        wet_day=wet_day,
        smoothed=smoothed,
    ).record


def make_weather(
    record: xr.Dataset,
    years: int = 30,
    seed: int = 1,
    method: str = FITTED,
    *,
    first_year: int | None = None,
    blocks: str = SEASON,
    conditions: Sequence[str] = (),
    kinds: str | None = None,
    weights: str | None = None,
    kinds_season: str = "OND",
    wet_day: float = WET_DAY,
    smoothed: bool = False,
) -> Made:
    """Make weather as `generate_weather`, and keep how it came to be."""
    how = FALL_RAIN if kinds is None else kinds
    _check(method, blocks, kinds, weights, bool(conditions))
    _check_smoothed(smoothed, method)
    wanted = read_conditions(conditions)
    time = falls(years, first_of(years) if first_year is None else first_year)
    draw = generator_of(seed)
    fitted = None
    notes: list[str] = []
    if method == FITTED:
        fitted = fit_climatology(record, wet_day=wet_day, smoothed=smoothed)
        notes += [*fitted.weak, *([fitted.moved] if smoothed else [])]
        if not wanted and weights is None:
            values = fitted_days(fitted, time, draw)
            return Made(_record(record, time, values, seed, method, "", notes), fitted, None, notes)
        count = CANDIDATES_OF_A_KIND if weights is not None else CANDIDATES
        record_of = _candidates(fitted, record, max(count, CANDIDATES_A_YEAR * years), draw)
    else:
        record_of = checked(record)
    seasons = seasons_of(record_of)
    if method == RESAMPLED:
        notes += _of_donors(seasons)
    chance = np.full(seasons.years.size, 1.0 / seasons.years.size)
    groups = None
    if weights is not None:
        of_year = kinds_of_falls(record_of, how, season=kinds_season)
        chance, groups, said = _by_kind(seasons, of_year, weights)
        notes.append(said)
    chance, said_of_totals = near_enough(seasons, chance, wanted)
    donors = draw_donors(seasons, years, draw, blocks=blocks, weights=chance, groups=groups)
    if method == FITTED:
        donors = spread_out(donors, chance, draw)
    values = assemble(seasons, donors, blocks, time)
    values[2], said_of_scale = scaled(values[2], time, wanted)
    notes += [*said_of_totals, *said_of_scale]
    different = np.unique(donors).size
    if (method == FITTED or wanted) and different < years:
        notes.append(
            f"Among the {years} falls are only {different} different seasons: chances "
            f"are known from them no better than from {different} falls."
        )
    asked = [condition.change.text for condition in wanted] + ([weights] if weights else [])
    made_by = method if blocks == SEASON else f"{method} by {blocks}"
    made = _record(record, time, values, seed, made_by, ", ".join(asked), notes)
    lent = seasons.years[donors] if method == RESAMPLED else None
    return Made(made, fitted, lent, notes)


def _check_smoothed(smoothed: bool, method: str) -> None:
    if smoothed and method != FITTED:
        raise fault(
            Parameter("smooth"),
            "Seasons of the record are drawn as they were.",
            Text("Leave it out, or take ", Parameter("method", FITTED), "."),
        )


def _check(
    method: str, blocks: str, kinds: str | None, weights: str | None, conditions: bool
) -> None:
    """Refuse options that do not go together; every fault is named."""
    problems: list[Problem] = []

    def refuse(where: str, what: str, remedy: str) -> None:
        problems.append(Problem(where, what, remedy))

    if method not in METHODS:
        refuse(
            Parameter("method"), f"'{method[:40]}' is not known.", f"Write {' or '.join(METHODS)}."
        )
    if kinds is not None and weights is None:
        refuse(
            Parameter("kinds"),
            "Kinds alone change nothing.",
            Text(
                "Give the chance of each too: ",
                Parameter("weights", "'wet 50, normal 30, dry 20'"),
                ".",
            ),
        )
    block_of_days(blocks)
    if method == FITTED and blocks != SEASON:
        refuse(
            Parameter("blocks"),
            "A fitted generator draws days, not blocks.",
            Text("Leave it out, or take ", Parameter("method", "resampled"), "."),
        )
    if conditions and blocks != SEASON:
        refuse(
            Parameter("blocks"),
            "Conditions choose whole seasons.",
            Text("Take ", Parameter("blocks", SEASON), ", or leave the conditions out."),
        )
    if method == FITTED and kinds is not None and plain_kind(kinds) not in WAYS:
        refuse(
            Parameter("kinds"),
            "A list of years sorts recorded falls, and a fitted generator makes others.",
            Text("Take ", Parameter("method", "resampled"), f", or sort by {', '.join(WAYS)}."),
        )
    if problems:
        raise InputError(problems)


def _of_donors(seasons: Seasons) -> list[str]:
    """Say what lends nothing, and what is weak."""
    notes = []
    if seasons.left_out:
        notes.append(
            f"Seasons that are not whole lend nothing: {', '.join(map(str, seasons.left_out))}."
        )
    if seasons.years.size < FEW_SEASONS:
        notes.append(
            f"Only {seasons.years.size} seasons are whole: the same few come again and "
            "again, and nothing rarer than they."
        )
    if not seasons.needed.all():
        notes.append("Only the months that two seasons or more have whole are generated.")
    if seasons.filled:
        notes.append(f"Short gaps were filled: {seasons.filled}.")
    return notes


def first_of(years: int) -> int:
    """Return the fall from which so many fit into a record: 2001 or earlier."""
    return min(FIRST_YEAR, LATEST - years)


def fitted_days(
    fitted: FittedClimatology, time: NDArray[np.datetime64], draw: np.random.Generator
) -> NDArray[np.float64]:
    """Draw days of a fitted generator; (3, days), NaN in months that were not fitted."""
    of_year = day_of_year(time)
    drawn = draw_days(fitted.climate, of_year, draw)
    values = np.array([drawn[name] for name in NAMES]).round(DIGITS) + 0.0
    values[:, ~fitted.known_days[of_year]] = np.nan
    return values


def _candidates(
    fitted: FittedClimatology, record: xr.Dataset, count: int, draw: np.random.Generator
) -> xr.Dataset:
    """Make seasons to choose from: a record longer than one that can be written."""
    import xarray as xr

    time = np.arange("1000-08-01", f"{1000 + count}-08-01", dtype="datetime64[D]")
    values = fitted_days(fitted, time, draw)
    return xr.Dataset(
        {name: ("time", row) for name, row in zip(NAMES, values, strict=True)},
        {"time": time.astype("datetime64[s]")},
        {"site": record.attrs.get("site", "")},
    )


def _by_kind(
    seasons: Seasons, kinds: Mapping[int, str], weights: str
) -> tuple[NDArray[np.float64], NDArray[np.int64], str]:
    """Weigh seasons by the chance of their kind; seasons of unknown kind lend nothing."""
    years = [int(year) for year in seasons.years]
    sorted_years = [year for year in years if year in kinds]
    shares = parse_weights(weights, {year: kinds[year] for year in sorted_years})
    by_year = dict(zip(sorted_years, year_weights(kinds, shares, sorted_years), strict=True))
    names = sorted(set(kinds.values()))
    chance = np.array([by_year.get(year, 0.0) for year in years])
    groups = np.array([names.index(kinds[year]) if year in kinds else -1 for year in years])
    counts = ", ".join(
        f"{sum(kinds[year] == kind for year in sorted_years)} {kind} (chance {share:.0%})"
        for kind, share in shares.items()
    )
    return chance, groups, f"Seasons drawn by the kind of their fall: {counts}."


def _record(
    record: xr.Dataset,
    time: NDArray[np.datetime64],
    values: NDArray[np.float64],
    seed: int,
    method: str,
    asked: str,
    notes: Sequence[str],
) -> xr.Dataset:
    about = record.attrs
    site = str(about.get("site", "")) or "this site"
    source = (
        f"generated by fallsown {__version__} from {about.get('source') or site}, "
        f"method {method}, seed {seed}"
    )
    if about.get("changes"):
        source += f", after {about['changes']}"
    if asked:
        source += f", conditioned on {asked}"
    longitude = about.get("longitude")
    made = make_record(
        time,
        *values,
        site=site if site.endswith("(generated)") else f"{site} (generated)",
        latitude=float(about.get("latitude", np.nan)),
        longitude=None if longitude is None else float(longitude),
        source=source,
        invented="yes",
        notes="; ".join(notes),
    )
    for name in ("units_shown", "units_of_file"):
        if name in about:
            made.attrs[name] = about[name]
    return made
