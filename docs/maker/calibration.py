"""Free a few numbers of the model, fit them to the open trials, and leave parts of those out.

What is fitted: biomass, growth between samplings, response to nitrogen, nitrogen percent and
stages, each site-season counting once within each kind. `FREED` names the numbers.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pandas as pd
from scipy.optimize import differential_evolution, least_squares

import simulator
from docs.maker.open_trials import OPEN_DATA, OpenTrials, open_trials
from simulator.parameters import cereals, soils
from simulator.trials.contrasts import gains, responses
from simulator.trials.plot_runs import PlotRuns

Array = np.ndarray[Any, Any]
FoldBy = Literal["season", "place"]

# Edit here: whose number, which, and where a fit begins: a textbook's value or a guess, from before
# any fit to these rows. A number of the cereal is rye's, the others keep their ratio to it (a
# temperature its difference); one of the soil or the previous crop is a ratio to what is shipped.
FREED: tuple[tuple[str, str, float], ...] = (
    ("cereal", "vegetative_rate", 0.06),
    ("cereal", "elongation_rate", 0.04),
    ("cereal", "vernal_half", 22.0),
    ("cereal", "leaf_growth_rate", 0.009),
    ("cereal", "leaf_base", 1.0),
    ("cereal", "seedling_leaf_area", 2.5),
    ("cereal", "specific_leaf_area", 28.0),
    ("cereal", "cold_leaf_thinness", 0.6),
    ("cereal", "leaf_share_start", 0.7),
    ("cereal", "leaf_share_end", 0.25),
    ("cereal", "leaf_life", 550.0),
    ("cereal", "last_leaf_life", 1000.0),
    ("cereal", "radiation_use_efficiency", 2.8),
    ("cereal", "growth_lowest", 0.0),
    ("cereal", "growth_best", 17.0),
    ("cereal", "luxury", 1.45),
    ("cereal", "growth_index_least", 0.2),
    ("cereal", "growth_index_full", 0.42),
    ("cereal", "leaf_index_least", 0.15),
    ("cereal", "leaf_index_full", 1.0),
    ("cereal", "richest", 0.055),
    ("cereal", "left_in_old_leaves", 0.5),
    ("cereal", "uptake_rate", 0.6),
    ("cereal", "root_mass_half", 250.0),
    ("cereal", "root_share_start", 0.42),
    ("cereal", "root_nitrogen_ratio", 0.4),
    ("cereal", "depletion_fraction", 0.55),
    ("soil", "organic_matter_gradient", 0.9),
    ("soil", "mineralisation_rate", 0.72),
    ("soil", "immobilisation_rate", 1.2),
    ("crop", "residual_nitrate", 0.63),
)
# what a kind of measurement is off by, a good model beside it (common practice, no source)
ERRORS = {
    "level": 1200.0,  # kg/ha
    # decisions hang on these two, and few seasons tell of them: they count four times
    "gain": 25.0,  # kg/ha a day
    "response": 600.0,  # kg/ha
    "nitrogen": 0.5,  # percent
    "stage": 4.0,  # Zadoks
    "wheat stage": 6.0,
}
PRIOR_OF_RANGE = 0.1  # of a cereal's number, as a share of its range: a wider one left out worse
PRIOR_OF_LOG = 0.25  # of the logarithm of a ratio
RATIOS = (0.25, 4.0)
TILLERING, TILLERS = 22.0, (20.0, 29.0)  # 22 in the table says no more than that the stand tillers
STEP = 0.04  # share of a range over which slopes are taken: the model has thresholds
HEADING, EMERGED = 55.0, 10.0  # Zadoks
# not told in the table of wheat (practice)
WHEAT_SOIL, WHEAT_CROP, WHEAT_SEEDING = "silt loam", "small grain", 150.0
WHEAT_NITROGEN = ("03-15", 180.0)  # highly fertilized


@dataclass(frozen=True, slots=True)
class Freed:
    """A number that is fitted.

    Parameters
    ----------
    of : {"cereal", "soil", "crop"}
    name : str
    start : float
        As shipped: rye's own value, or 1 for a ratio.
    begun : float
        Where a fit begins and what it is pulled to.
    low, high : float
    """

    of: str
    name: str
    start: float
    begun: float
    low: float
    high: float

    @property
    def is_ratio(self) -> bool:
        """Whether it multiplies what each texture or crop has."""
        return self.of != "cereal"

    def to_place(self, value: Array | float) -> Array:
        """Put a value on 1 to 2, so that a relative step is about one share of every range."""
        low, high, value = self._bent(self.low), self._bent(self.high), self._bent(value)
        return np.asarray(1.0 + (value - low) / (high - low))

    def to_value(self, place: Array | float) -> Array:
        """Undo `to_place`."""
        low, high = self._bent(self.low), self._bent(self.high)
        made = low + (np.asarray(place) - 1.0) * (high - low)
        return np.asarray(np.clip(np.exp(made) if self.is_ratio else made, self.low, self.high))

    def strayed(self, value: float) -> float:
        """Say how far a value is from where a fit begins, in standard deviations of the prior."""
        if self.is_ratio:
            return float(np.log(value / self.begun)) / PRIOR_OF_LOG
        return (value - self.begun) / (PRIOR_OF_RANGE * (self.high - self.low))

    def _bent(self, value: Array | float) -> Array:
        return np.asarray(np.log(value) if self.is_ratio else value)


def freed(names: Sequence[tuple[str, str] | tuple[str, str, float]] = FREED) -> tuple[Freed, ...]:
    """Look up the numbers that are named; a fit begins at what is shipped where nothing is said."""
    found = []
    for of, name, *begun in names:
        if of == "cereal":
            spec = cereals.Cereal.specs()[name]
            start, low, high = getattr(cereals.rye, name), spec.low, spec.high
        else:
            (soils.Soil if of == "soil" else soils.PreviousCrop).specs()[name]  # is there one
            start, (low, high) = 1.0, RATIOS
        found.append(Freed(of, name, start, float(begun[0]) if begun else start, low, high))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Kind:
    """Measurements of one kind, each a field of the day of sampling or a difference of two.

    Parameters
    ----------
    name, field : str
        Of `ERRORS`; of `simulator.season.day.record.DAY`.
    second, first : int array (measurement,)
        Rows; ``first`` is -1 where nothing is taken off.
    days : array (measurement,)
        What the difference is divided by.
    low, high : array (measurement,)
        Within these nothing is wrong; most often they are one number.
    season : int array (measurement,)
    """

    name: str
    field: str
    second: Array
    first: Array
    days: Array
    low: Array
    high: Array
    season: Array

    def simulated(self, made: Array) -> Array:
        """Return what the model has in their place; a dead stand has no biomass."""
        values = made[self.field]
        if self.field == "biomass_kg_ha":
            values = np.nan_to_num(values)
        less = np.where(self.first >= 0, values[self.first], 0.0)
        found: Array = (values[self.second] - less) / self.days
        return found

    def misfits(self, made: Array, keep: Array) -> Array:
        """Return what is wrong in the seasons kept, each season with the weight of one."""
        found = self.simulated(made)
        wrong = np.nan_to_num(found - np.clip(found, self.low, self.high))
        weights = 1.0 / np.bincount(self.season, minlength=keep.size)[self.season]
        scaled: Array = (wrong * np.sqrt(weights) / ERRORS[self.name])[keep[self.season]]
        return scaled


@dataclass(frozen=True, slots=True)
class Trials:
    """All that the model is fitted to, ready to run.

    Parameters
    ----------
    table : DataFrame
        The rows of rye, then two for each season of the German wheat: emergence and heading.
    records, site_soils, site_crops : dict
        By site.
    runs : PlotRuns
    freed : tuple of Freed
    kinds : tuple of Kind
    seasons : tuple of (str, int)
        Site and fall year.
    places : tuple of str
        One a weather file.
    season_of, place_of : int array (row,)
    """

    table: pd.DataFrame
    records: dict[str, Any]
    site_soils: dict[str, soils.Soil]
    site_crops: dict[str, soils.PreviousCrop]
    runs: PlotRuns
    freed: tuple[Freed, ...]
    kinds: tuple[Kind, ...]
    seasons: tuple[tuple[str, int], ...]
    places: tuple[str, ...]
    season_of: Array
    place_of: Array

    @property
    def shipped(self) -> Array:
        """The freed numbers as they are shipped."""
        return np.array([one.start for one in self.freed])

    @property
    def begun(self) -> Array:
        """The freed numbers where a fit begins."""
        return np.array([one.begun for one in self.freed])

    def simulate(self, values: Array | None = None, runs: PlotRuns | None = None) -> Array:
        """Run every row, or other runs of the same sites.

        Returns
        -------
        structured array (row,) of `simulator.season.day.record.DAY`
        """
        kinds, grounds, crops = self.with_values(self.shipped if values is None else values)
        return (runs or self.runs).simulate(kinds, grounds, crops)

    def with_values(
        self, values: Array
    ) -> tuple[dict[str, cereals.Cereal], dict[str, soils.Soil], dict[str, soils.PreviousCrop]]:
        """Return cereals, soils and previous crops with the freed numbers put in."""
        kinds = {
            name: replace(one, **self._of_cereal(one, values))
            for name, one in cereals.CEREALS.items()
        }
        return (
            kinds,
            self._scaled("soil", self.site_soils, values),
            self._scaled("crop", self.site_crops, values),
        )

    def _of_cereal(self, one: cereals.Cereal, values: Array) -> dict[str, Any]:
        changed: dict[str, Any] = {}
        for number, value in zip(self.freed, values, strict=True):
            if number.of == "cereal":
                own, spec = getattr(one, number.name), one.specs()[number.name]
                offset = spec.unit == "degC" or number.start == 0.0
                # in this order, so that shipped values give the shipped sets to the last bit
                other = own + (value - number.start) if offset else own * (value / number.start)
                changed[number.name] = float(np.clip(other, spec.low, spec.high))
        return changed

    def _scaled(self, of: str, sets: Mapping[str, Any], values: Array) -> dict[str, Any]:
        ratios = [
            (number.name, value)
            for number, value in zip(self.freed, values, strict=True)
            if number.of == of
        ]
        made = {}
        for site, one in sets.items():
            specs = one.specs()
            made[site] = replace(
                one,
                **{
                    name: float(
                        np.clip(getattr(one, name) * ratio, specs[name].low, specs[name].high)
                    )
                    for name, ratio in ratios
                },
            )
        return made

    def folds(self, by: FoldBy) -> list[tuple[str, Array]]:
        """Name the folds, each with the seasons that it leaves out in turn."""
        if by == "season":
            return [
                (f"{site} {year}", np.arange(len(self.seasons)) == at)
                for at, (site, year) in enumerate(self.seasons)
            ]
        found = []
        for at, place in enumerate(self.places):
            gone = np.zeros(len(self.seasons), bool)
            gone[self.season_of[self.place_of == at]] = True
            found.append((place, gone))
        return found


def prepare(
    folder: Path = OPEN_DATA, names: Sequence[tuple[str, str] | tuple[str, str, float]] = FREED
) -> Trials:
    """Read the open trials and set them beside their weather.

    Parameters
    ----------
    folder : Path
    names : sequence of (str, str) or (str, str, float)
        As `FREED`.
    """
    rye = open_trials(folder)
    wheat, weather = _german_wheat(folder)
    table = pd.concat([rye.plots.table, wheat], ignore_index=True)
    records = {**rye.records, **weather}
    plots = replace(rye.plots, table=table)
    seasons = tuple(dict.fromkeys(zip(table["site"], table["year"].astype(int), strict=True)))
    files = {site: str(record.attrs["source"]) for site, record in records.items()}
    by_file = {file: _called([s for s in files if files[s] == file]) for file in files.values()}
    places = tuple(dict.fromkeys(by_file[files[site]] for site in table["site"]))
    season_of = np.array(
        [
            seasons.index((site, year))
            for site, year in zip(table["site"], table["year"], strict=True)
        ]
    )
    return Trials(
        table,
        records,
        rye.site_soils | {site: soils.soil(WHEAT_SOIL) for site in weather},
        rye.site_crops | {site: soils.previous_crop(WHEAT_CROP) for site in weather},
        plots.runs(records),
        freed(names),
        _kinds(rye, table, season_of),
        seasons,
        places,
        season_of,
        np.array([places.index(by_file[files[site]]) for site in table["site"]]),
    )


def _called(sites: Sequence[str]) -> str:
    """Name a place by the words that the names of its fields begin with."""
    shared = []
    for words in zip(*(site.split("_") for site in sites), strict=False):
        if len(set(words)) > 1:
            break
        shared.append(words[0])
    return "_".join(shared)


def _german_wheat(folder: Path) -> tuple[pd.DataFrame, dict[str, Any]]:
    """Read the stages of wheat as rows of a plot table: a sampling on the day of each stage."""
    told = pd.read_csv(
        folder / "trials" / "wheat_stages_germany.csv",
        parse_dates=["sown", "emerged", "heading_median"],
    )
    weather = {
        str(site): simulator.read_weather(
            folder / "weather" / "germany" / f"{site}_germany.csv",
            latitude=float(some["latitude"].iloc[0]),
        )
        for site, some in told.groupby("site")
    }
    dressed, nitrogen = WHEAT_NITROGEN
    both = []
    for column, stage in (("emerged", EMERGED), ("heading_median", HEADING)):
        rows = told[["site", "latitude", "sown"]].assign(sampled=told[column])
        both.append(rows.assign(growth_stage_zadoks=stage).dropna(subset="sampled"))
    table = pd.concat(both, ignore_index=True)
    year = table["sown"].dt.year
    spring = pd.to_datetime((year + 1).astype(str) + f"-{dressed}")
    table = table.assign(
        year=year,
        cereal="wheat",
        seeding_kg_ha=WHEAT_SEEDING,
        fertilizer="ammonium nitrate",
        nitrogen_fall_kg_ha=0.0,
        fall_nitrogen_date=table["sown"],
        nitrogen_spring_kg_ha=nitrogen,
        spring_nitrogen_date=spring,
        soil=WHEAT_SOIL,
        previous_crop=WHEAT_CROP,
        line=0,
    )
    return table, weather


def _kinds(rye: OpenTrials, table: pd.DataFrame, season_of: Array) -> tuple[Kind, ...]:
    rows = rye.plots.table
    grown, fed = gains(rows), responses(rows)
    nitrogen = rows.index[rows["nitrogen_percent"].notna()].to_numpy()
    staged = table.index[table["growth_stage_zadoks"].notna()].to_numpy()
    is_wheat = (table["cereal"] == "wheat").to_numpy()[staged]

    def kind(
        name: str,
        field: str,
        second: Array,
        measured: Array,
        first: Array | None = None,
        days: Array | None = None,
    ) -> Kind:
        low, high = (np.asarray(measured, float).copy() for _ in range(2))
        if name == "stage":
            low[measured == TILLERING], high[measured == TILLERING] = TILLERS
        return Kind(
            name,
            field,
            second,
            np.full(second.size, -1) if first is None else first,
            np.ones(second.size) if days is None else days,
            low,
            high,
            season_of[second],
        )

    def stages(which: Array) -> tuple[str, Array, Array]:
        seen = table["growth_stage_zadoks"].to_numpy(float)[which]
        return "growth_stage_zadoks", which, seen

    return (
        kind("level", "biomass_kg_ha", np.arange(len(rows)), rows["biomass_kg_ha"].to_numpy()),
        kind(
            "gain",
            "biomass_kg_ha",
            grown["second"].to_numpy(),
            grown["measured"].to_numpy(),
            grown["first"].to_numpy(),
            grown["days"].to_numpy(float),
        ),
        kind(
            "response",
            "biomass_kg_ha",
            fed["fed"].to_numpy(),
            fed["measured"].to_numpy(),
            fed["none"].to_numpy(),
        ),
        kind(
            "nitrogen", "nitrogen_percent", nitrogen, rows["nitrogen_percent"].to_numpy()[nitrogen]
        ),
        kind("stage", *stages(staged[~is_wheat])),
        kind("wheat stage", *stages(staged[is_wheat])),
    )


def residuals(
    trials: Trials, values: Array, keep: Array | None = None, start: Array | None = None
) -> Array:
    """Weigh all that is wrong.

    Parameters
    ----------
    trials : Trials
    values : array (freed,)
    keep : bool array (season,), optional
        Seasons that count; all without it.
    start : array (freed,), optional
        Where the prior pulls to; where fits begin without it.

    Returns
    -------
    array
        Each kind in turn, then the prior; 1 is an error of `ERRORS` in each of a season's rows.
        Where a stand is dead, its nitrogen percent is passed over.
    """
    keep = np.ones(len(trials.seasons), bool) if keep is None else keep
    made = trials.simulate(values)
    pulls = [
        one.strayed(float(value)) - one.strayed(float(begun))
        for one, value, begun in zip(
            trials.freed, values, trials.begun if start is None else start, strict=True
        )
    ]
    return np.concatenate([*(kind.misfits(made, keep) for kind in trials.kinds), pulls])


def fit(
    trials: Trials,
    start: Array | None = None,
    keep: Array | None = None,
    *,
    most: int = 12,
    pull_to: Array | None = None,
) -> Array:
    """Fit the freed numbers by least squares, from a start.

    Parameters
    ----------
    trials : Trials
    start : array (freed,), optional
        Where fits begin without it.
    keep : bool array (season,), optional
    most : int
        Steps tried.
    pull_to : array (freed,), optional
        Where the prior pulls to; the start without it.

    Returns
    -------
    array (freed,)

    References
    ----------
    Branch et al. (1999), SIAM J. Sci. Comput. 21:1-23.
    """
    start = trials.begun if start is None else start
    prior = start if pull_to is None else pull_to
    done = least_squares(
        lambda places: residuals(trials, _values(trials, places), keep, prior),
        _places(trials, start),
        bounds=(1.0, 2.0),
        diff_step=STEP,
        max_nfev=most,
    )
    return _values(trials, done.x)


def search(
    trials: Trials,
    seed: int = 1,
    keep: Array | None = None,
    *,
    rounds: int = 100,
    population: int = 60,
    polish: int = 20,
) -> Array:
    """Look for the best freed numbers over their whole ranges, then polish by least squares.

    Parameters
    ----------
    trials : Trials
    seed : int
        The same seed finds the same.
    keep : bool array (season,), optional
    rounds, population : int
        Of differential evolution.
    polish : int
        Steps of least squares at the end.

    Returns
    -------
    array (freed,)

    References
    ----------
    Storn and Price (1997), J. Glob. Optim. 11:341-359.
    """
    found = differential_evolution(
        lambda places: float(np.sum(residuals(trials, _values(trials, places), keep) ** 2)),
        [(1.0, 2.0)] * len(trials.freed),
        maxiter=rounds,
        init="sobol",
        polish=False,
        rng=seed,
        popsize=max(population // len(trials.freed), 1),
        x0=_places(trials, trials.begun),
    )
    best = _values(trials, found.x)
    return fit(trials, best, keep, most=polish, pull_to=trials.begun) if polish else best


def _values(trials: Trials, places: Array) -> Array:
    return np.array([one.to_value(place) for one, place in zip(trials.freed, places, strict=True)])


def _places(trials: Trials, values: Array) -> Array:
    made = [one.to_place(value) for one, value in zip(trials.freed, values, strict=True)]
    return np.clip(made, 1.0, 2.0)


@dataclass(frozen=True, slots=True)
class CrossValidation:
    """All rows, each by a fit that had not seen its fold.

    Parameters
    ----------
    by : {"season", "place"}
    names : tuple of str
        The folds.
    gone : bool array (fold, season)
    values : array (fold, freed)
        What was fitted without each.
    made : structured array (row,) of `simulator.season.day.record.DAY`
    """

    by: FoldBy
    names: tuple[str, ...]
    gone: Array
    values: Array
    made: Array


def cross_validate(
    trials: Trials, by: FoldBy, folder: Path = OPEN_DATA, *, workers: int = 2, most: int = 12
) -> CrossValidation:
    """Fit without each fold in turn, from where fits begin, and predict it.

    Parameters
    ----------
    trials : Trials
        As `prepare` reads them from the folder.
    by : {"season", "place"}
    folder : Path
    workers : int
        Processes; a script that calls this does so under ``if __name__ == "__main__":``.
    most : int
        As in `fit`.
    """
    names, gone = zip(*trials.folds(by), strict=True)
    freed_names = tuple((one.of, one.name, one.begun) for one in trials.freed)
    with ProcessPoolExecutor(
        workers, multiprocessing.get_context("spawn"), _begin, (folder, freed_names)
    ) as pool:
        values = np.array(list(pool.map(_fit_without, gone, [most] * len(gone))))
    made = trials.simulate()
    for out, own in zip(gone, values, strict=True):
        rows = out[trials.season_of]
        made[rows] = trials.simulate(own)[rows]
    return CrossValidation(by, names, np.array(gone), values, made)


_held: list[Trials] = []  # of a worker


def _begin(folder: Path, names: Sequence[tuple[str, str]]) -> None:
    _held[:] = [prepare(folder, names)]


def _fit_without(gone: Array, most: int) -> Array:
    return fit(_held[0], keep=~gone, most=most)
