"""What a fit makes small: a trial simulated with any parameters, its misfits weighed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from simulator.parameters.cereals import CEREALS, Cereal
from simulator.parameters.soils import PreviousCrop, Soil, previous_crop, soil
from simulator.trials.agreement import DEFAULT_CROP, DEFAULT_SOIL, by_site, with_organic_matter
from simulator.trials.observations import Plots
from simulator.trials.plot_runs import PlotRuns

if TYPE_CHECKING:
    import xarray as xr

Array = np.ndarray[Any, Any]

USUAL_VARIATION = 0.3  # coefficient of variation where no row tells one (the open trials' own)
_MEMORY = 40_000  # simulated sites kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A parameter to fit.

    Parameters
    ----------
    kind : {"cereal", "soil", "site"}
        A cereal's own, shared by the soils of all sites, or one site's.
    owner : str
        Name of the cereal or the site; ``"all soils"``.
    name, unit : str
    default, low, high : float
        Where the prior pulls to, and the range searched.
    """

    kind: Literal["cereal", "soil", "site"]
    owner: str
    name: str
    unit: str
    default: float
    low: float
    high: float

    @property
    def label(self) -> str:
        """``"rye growth_best"``."""
        return f"{self.owner} {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighting:
    """How misfits are weighed; see `Trial.misfits`.

    Parameters
    ----------
    model_error : float
        What no model of this kind gets below, in a plot mean [kg/ha].
    nitrogen_error : float
        The same of nitrogen in shoots [kg/ha].
    nitrogen_weight : float
        Of nitrogen beside biomass, 0 to leave it out.
    shared : float
        Share of the model's error that the plots of one season have in common, 0 to 1.
    prior : float
        Standard deviation of a parameter about its default, as a share of its range.
    """

    model_error: float = 800.0
    nitrogen_error: float = 15.0
    nitrogen_weight: float = 0.5
    shared: float = 0.5
    prior: float = 0.25


class Trial:
    """Plots, their weather and their parameter sets, simulated site by site.

    Parameters
    ----------
    plots : Plots
        Rows whose seasons the weather covers.
    records : mapping of str to Dataset(time)
        Weather of each site.
    site_soils, site_crops : mapping of str to parameter set, optional
        By site; those that the plot table names, else sandy loam and cotton, without them.
    cereal_sets : mapping of str to Cereal
        These are where the search starts and what the priors pull to.

    Raises
    ------
    InputError
        As `Plots.runs` and `by_site`.
    """

    def __init__(
        self,
        plots: Plots,
        records: Mapping[str, xr.Dataset],
        *,
        site_soils: Mapping[str, Soil] | None = None,
        site_crops: Mapping[str, PreviousCrop] | None = None,
        cereal_sets: Mapping[str, Cereal] = CEREALS,
    ) -> None:
        self.plots = plots
        self.records = {site: records[site] for site in plots.sites if site in records}
        table = plots.table
        self.sites = plots.sites
        grounds = site_soils or with_organic_matter(
            plots, by_site(plots, (), "soil", soil, DEFAULT_SOIL)[0]
        )
        # at their latitude, so that an organic matter that is fitted is that of the field itself
        self.soils = {
            site: ground.at(plots.latitude(site, records)) if site in records else ground
            for site, ground in grounds.items()
        }
        self.crops = (
            site_crops or by_site(plots, (), "previous_crop", previous_crop, DEFAULT_CROP)[0]
        )
        names = sorted({str(name) for name in table["cereal"]})
        self.cereals = {name: cereal_sets[name] for name in names}
        self.biomass = table["biomass_kg_ha"].to_numpy(float)
        self.nitrogen = self.biomass * table["nitrogen_percent"].to_numpy(float) / 100.0
        self.seasons = list(dict.fromkeys(zip(table["site"], table["year"], strict=True)))
        at = {season: place for place, season in enumerate(self.seasons)}
        rows = zip(table["site"], table["year"], strict=True)
        self.season_of = np.array([at[season] for season in rows])
        self._spread = table["biomass_sd_kg_ha"].to_numpy(float)
        self._number = np.maximum(np.nan_to_num(table["plots"].to_numpy(float), nan=1.0), 1.0)
        # the whole table at once, so that every fault of it is told
        days = plots.runs(records).simulate(self.cereals, self.soils, self.crops)
        self.thermal_time: Array = days["thermal_time_degC_d"].copy()  # above 0 degC from sowing
        self._runs: dict[tuple[int, ...], PlotRuns] = {}
        self._known: dict[tuple[Any, ...], Array] = {}
        self._one_site: dict[str, Trial] = {}

    def one_site(self, site: str) -> Trial:
        """Return the trial of one site, which knows of no other."""
        if site not in self._one_site:
            self._one_site[site] = Trial(
                _rows(self.plots, (self.plots.table["site"] == site).to_numpy()),
                {site: self.records[site]},
                site_soils={site: self.soils[site]},
                site_crops={site: self.crops[site]},
                cereal_sets=self.cereals,
            )
        return self._one_site[site]

    def simulate(
        self, quantities: Sequence[Quantity], values: Array, wanted: Array | None = None
    ) -> Array:
        """Run the plots of some seasons.

        Parameters
        ----------
        quantities : sequence of Quantity
        values : array (quantity,)
        wanted : bool array (season,), optional
            All without it.

        Returns
        -------
        array (row, 2)
            Biomass and nitrogen in shoots [kg/ha]; NaN in rows of other seasons.
        """
        out = np.full((len(self.biomass), 2), np.nan)
        for site in self.sites:
            seasons = tuple(
                place
                for place, (of, _) in enumerate(self.seasons)
                if of == site and (wanted is None or wanted[place])
            )
            if seasons:
                out[np.isin(self.season_of, seasons)] = self._site(
                    site, seasons, quantities, values
                )
        return out

    def _site(
        self, site: str, seasons: tuple[int, ...], quantities: Sequence[Quantity], values: Array
    ) -> Array:
        """Run seasons of a site, or recall them: its own parameters leave other sites alone."""
        own = [
            (q, float(value))
            for q, value in zip(quantities, values, strict=True)
            if q.kind != "site" or q.owner == site
        ]
        key = (seasons, *((q.label, value) for q, value in own))
        known = self._known.get(key)
        if known is not None:
            return known
        if len(self._known) > _MEMORY:
            self._known.clear()
        if seasons not in self._runs:
            rows = np.isin(self.season_of, seasons)
            self._runs[seasons] = _rows(self.plots, rows).runs({site: self.records[site]})
        of_soil = _values(own, lambda q: q.kind != "cereal" and q.name in Soil.specs())
        of_crop = _values(own, lambda q: q.kind == "site" and q.name not in Soil.specs())
        of_cereals = {
            name: _values(own, lambda q, name=name: (q.kind, q.owner) == ("cereal", name))  # type: ignore[misc]
            for name in self.cereals
        }
        cereals = {
            name: replace(one, **of_cereals[name]) if of_cereals[name] else one
            for name, one in self.cereals.items()
        }
        days = self._runs[seasons].simulate(
            cereals,
            {site: replace(self.soils[site], **of_soil)},
            {site: replace(self.crops[site], **of_crop)},
        )
        made = np.column_stack([days["biomass_kg_ha"], days["nitrogen_uptake_kg_ha"]])
        alive: Array = np.nan_to_num(made)  # a stand that is dead has none
        self._known[key] = alive
        return alive

    def misfits(self, simulated: Array, weighting: Weighting, counts: Array) -> Array:
        """Weigh the differences between simulated and observed.

        A row's weight is 1 / (s**2 / n + e**2): s the plots' standard deviation, n their number
        and e the model error, so that many or even plots count for more, but none for everything.
        A standard deviation of few plots is itself a guess, so s is the root of the mean of its
        square and that of the standard deviation which the mean coefficient of variation of the
        rows that count gives. Nitrogen has the same coefficient of variation, and its own error
        and weight. Plots of one season share their weather and much of the model's error, so n of
        them count as n / (1 + (n - 1) shared): the design effect of Kish (1965), Survey Sampling.

        Parameters
        ----------
        simulated : array (row, 2)
        weighting : Weighting
        counts : array (season,)
            How often each season counts; 0 leaves it out.

        Returns
        -------
        array (misfit,)
            In standard deviations.
        """
        deviation, number = self._spread, self._number
        count = counts[self.season_of]
        # plots of one season err together: n of them tell what n / (1 + (n - 1) shared) would
        together = np.bincount(self.season_of)[self.season_of]
        weight = count / (1.0 + (together - 1.0) * weighting.shared)
        known = np.isfinite(deviation) & (self.biomass > 0) & (count > 0)
        usual = self.biomass * (
            np.mean(deviation[known] / self.biomass[known]) if known.any() else USUAL_VARIATION
        )
        own = np.where(np.isfinite(deviation), deviation, usual)
        variance = 0.5 * (own**2 + usual**2) / number
        biomass = (simulated[:, 0] - self.biomass) / np.sqrt(variance + weighting.model_error**2)
        share = np.divide(
            self.nitrogen, self.biomass, out=np.zeros_like(self.biomass), where=self.biomass > 0
        )
        nitrogen = (simulated[:, 1] - self.nitrogen) / np.sqrt(
            variance * share**2 + weighting.nitrogen_error**2
        )
        kept, measured = count > 0, (count > 0) & np.isfinite(self.nitrogen)
        return np.concatenate(
            [
                biomass[kept] * np.sqrt(weight[kept]),
                nitrogen[measured] * np.sqrt(weight[measured] * weighting.nitrogen_weight),
            ]
        )


def _rows(plots: Plots, wanted: Array) -> Plots:
    """Return some rows as a table of their own."""
    return replace(plots, table=plots.table[wanted].reset_index(drop=True))


def _values(
    own: Sequence[tuple[Quantity, float]], wanted: Callable[[Quantity], bool]
) -> dict[str, Any]:
    return {q.name: value for q, value in own if wanted(q)}
