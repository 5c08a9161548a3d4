"""Every plot of a trial simulated and set beside what was measured, and how well they agree."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import pandas as pd

from simulator.parameters import cereals, soils
from simulator.parameters.model_error import LEVEL, ModelError
from simulator.problems import InputError, Parameter, Problem, Text, printable
from simulator.season.seasons import days_used
from simulator.trials.contrasts import gains, nitrogen_given, responses
from simulator.trials.observations import Plots
from simulator.trials.skill import Contrast, Skill, contrast_of, skill_of
from simulator.weather.fall_year import keep_filled
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr

DEFAULT_SOIL, DEFAULT_CROP = "sandy loam", "cotton"
# measured beside the biomass, as the model names it too
OTHERS = ("nitrogen_percent", "carbon_to_nitrogen", "growth_stage_zadoks")
# what of the day of sampling goes with a row
SIMULATED = (
    "biomass_kg_ha",
    "nitrogen_uptake_kg_ha",
    *OTHERS[:2],
    "nitrate_leached_kg_ha",
    "drainage_mm",
    "runoff_mm",
    "rain_mm",
    "thermal_time_degC_d",
    OTHERS[2],
    "leaf_area_index",
    "stand_alive",
)
FIELD_BAND = 0.8  # share of plots that the band of a field is to hold
FIRST_MONTH = 7  # a season runs from July to June
# name, above and up to [kg/ha]: none, about 50 and 100 lb/ac, which trials are laid out by
NITROGEN_CLASSES = (
    ("none", -np.inf, 0.0),
    ("up_to_57_kg_ha", 0.0, 57.0),
    ("57_to_113_kg_ha", 57.0, 113.0),
    ("over_113_kg_ha", 113.0, np.inf),
)
Kind = TypeVar("Kind", soils.Soil, soils.PreviousCrop)


@dataclass(frozen=True, slots=True)
class NitrogenClass:
    """Plots that got about as much nitrogen.

    Parameters
    ----------
    lowest, highest : float
        Rates among them [kg/ha].
    skill : Skill
        For biomass.
    """

    lowest: float
    highest: float
    skill: Skill


@dataclass(frozen=True, slots=True)
class Agreement:
    """Plots simulated beside plots measured.

    Parameters
    ----------
    plots : Plots
        The rows that could run.
    rows : DataFrame
        Their table, and for each of `SIMULATED` a column ``simulated_...``; ``soil`` and
        ``previous_crop`` are those simulated; ``residual_kg_ha`` is simulated - observed;
        ``field_low_kg_ha`` to ``field_high_kg_ha`` is the band that `FIELD_BAND` of plots in
        fields that the model has not seen are to lie in.
    left_out : list of str
        The rows that could not run, with the reason.
    notes : list of str
        What was taken for granted.
    error : ModelError
        The model's own error, which the band is of.
    """

    plots: Plots
    rows: pd.DataFrame
    left_out: list[str]
    notes: list[str]
    error: ModelError = LEVEL

    def skill(self, rows: pd.DataFrame | None = None) -> Skill:
        """Return the skill for biomass [kg/ha] over some of the rows, or all."""
        some = self.rows if rows is None else rows
        return skill_of(
            some["biomass_kg_ha"],
            some["simulated_biomass_kg_ha"],
            some["biomass_sd_kg_ha"],
            some["plots"],
        )

    def inside(self) -> tuple[int, int]:
        """Return how many of the rows lie in the field band, and of how many it is known."""
        rows = self.rows[self.rows[["field_low_kg_ha", "biomass_kg_ha"]].notna().all(axis=1)]
        there = rows["biomass_kg_ha"].between(rows["field_low_kg_ha"], rows["field_high_kg_ha"])
        return int(there.sum()), len(rows)

    def by(self, column: str) -> dict[str, Skill]:
        """Return the skill for biomass by ``"site"`` or ``"year"``, in order."""
        return {
            str(key): self.skill(rows)
            for key, rows in self.rows.groupby(column, sort=column == "year")
        }

    def by_month(self) -> dict[int, Skill]:
        """Return the skill for biomass by month of sampling, in the order of a season."""
        months = self.rows["sampled"].dt.month
        ordered = sorted(set(months), key=lambda month: (month - FIRST_MONTH) % 12)
        return {int(month): self.skill(self.rows[months == month]) for month in ordered}

    def by_nitrogen(self) -> dict[str, NitrogenClass]:
        """Return the skill for biomass by all the nitrogen given: none, and the rest by rate."""
        given = nitrogen_given(self.rows)
        found = {}
        for name, low, high in NITROGEN_CLASSES:
            there = (given > low) & (given <= high)
            if there.any():
                found[name] = NitrogenClass(
                    float(given[there].min()),
                    float(given[there].max()),
                    self.skill(self.rows[there]),
                )
        return found

    def gains(self) -> Contrast:
        """Return the agreement of growth between samplings of one stand [kg/ha a day]."""
        return self._contrast(gains(self.rows), "second")

    def responses(self) -> Contrast:
        """Return the agreement of what nitrogen brought [kg/ha]."""
        return self._contrast(responses(self.rows), "fed")

    def _contrast(self, pairs: pd.DataFrame, of: str) -> Contrast:
        known = pairs[pairs[["measured", "simulated"]].notna().all(axis=1)]
        seasons = self.rows.loc[known[of], ["site", "year"]].drop_duplicates()
        return contrast_of(known["measured"], known["simulated"], len(seasons))

    def others(self) -> dict[str, Skill]:
        """Return the skill for what else was measured, of `OTHERS`."""
        found = {name: skill_of(self.rows[name], self.rows[f"simulated_{name}"]) for name in OTHERS}
        return {name: skill for name, skill in found.items() if skill.n}


def agree(
    plots: Plots,
    records: Mapping[str, xr.Dataset],
    *,
    site_soils: Mapping[str, soils.Soil],
    site_crops: Mapping[str, soils.PreviousCrop],
    cereal_sets: Mapping[str, cereals.Cereal] = cereals.CEREALS,
    error: ModelError = LEVEL,
) -> Agreement:
    """Simulate every plot that its weather covers.

    Parameters
    ----------
    plots : Plots
    records : mapping of str to Dataset(time)
        Weather by site.
    site_soils, site_crops : mapping of str to parameter set
        By site; from `by_site`.
    cereal_sets : mapping of str to Cereal
    error : ModelError
        Of biomass in fields that the model has not seen; another for one that was fitted.

    Returns
    -------
    Agreement

    Raises
    ------
    InputError
        As `Plots.covered_by`.
    """
    covered, left_out = plots.covered_by(records)
    days = covered.runs(records).simulate(cereal_sets, site_soils, site_crops)
    rows = covered.table.assign(
        soil=[site_soils[site].name for site in covered.table["site"]],
        previous_crop=[site_crops[site].name for site in covered.table["site"]],
        **{f"simulated_{name}": days[name] for name in SIMULATED},
    )
    simulated = rows["simulated_biomass_kg_ha"].to_numpy(float)
    rows["residual_kg_ha"] = simulated - rows["biomass_kg_ha"]
    rows["field_low_kg_ha"], rows["field_high_kg_ha"] = error.band(simulated, FIELD_BAND)
    filled = {site: _filled(covered, site, record) for site, record in records.items()}
    notes = [
        *plots.notes,
        *(f"Doubt: {doubt}" for doubt in plots.doubts),
        *(
            f"Short gaps in the weather of {site} were filled: {days}."
            for site, days in filled.items()
            if days
        ),
    ]
    return Agreement(covered, rows, left_out, notes, error)


def _filled(plots: Plots, site: str, record: xr.Dataset) -> str:
    """Say what was filled in the weather of a site's plots, from each soil's first day on."""
    used = [
        span
        for plot in plots.plots()
        if plot.site == site
        for span in days_used([plot.year], plot.sown, plot.sampled)
    ]
    return str(keep_filled(fill_short_gaps(record), used).attrs["filled"])


def with_organic_matter(
    plots: Plots, site_soils: Mapping[str, soils.Soil], settled: Collection[str] = ()
) -> dict[str, soils.Soil]:
    """Give each site's soil the organic matter that the plot table says was measured.

    Parameters
    ----------
    plots : Plots
    site_soils : mapping of str to Soil
        By site.
    settled : collection of str
        Sites whose organic matter is said elsewhere, which goes first.

    Raises
    ------
    InputError
        A site with two values.
    """
    found, problems = dict(site_soils), []
    column = "organic_matter_percent"
    for site in plots.sites:
        in_table = plots.table.loc[plots.table["site"] == site, column].dropna()
        if in_table.nunique() > 1:
            row = int(in_table.index[np.argmax(in_table != in_table.iloc[0])])
            problems.append(
                Problem(
                    f"{plots.place(row)}, column '{column}'",
                    f"The site '{site}' has both {in_table.iloc[0]:g} and "
                    f"{in_table[row]:g} percent.",
                    "Give its parts names of their own.",
                )
            )
        elif in_table.size and site not in settled:
            found[site] = found[site].measured(float(in_table.iloc[0]))
    if problems:
        raise InputError(problems)
    return found


def by_site(
    plots: Plots,
    given: Sequence[str],
    column: str,
    choose: Callable[[str], Kind],
    default: str,
) -> tuple[dict[str, Kind], list[str]]:
    """Settle the soil, or the previous crop, of every site.

    Parameters
    ----------
    plots : Plots
    given : sequence of str
        ``"loam"`` for all sites, ``"headland=loam"`` for one; the latter goes first.
    column : {"soil", "previous_crop"}
        Of the plot table, which is asked where nothing was given.
    choose : callable
        Returns the set of a name.
    default : str
        Where nobody says.

    Returns
    -------
    dict
        Site -> set.
    list of str
        A note, where the default was taken.

    Raises
    ------
    InputError
        An unknown name or site, a site given twice or with two in the table; all are named.
    """
    option = Parameter(column)
    problems: list[Problem] = []
    named: dict[str, Kind] = {}
    for text in given:
        site, _, name = text.rpartition("=")
        site = " ".join(printable(site).split())
        if "=" in text and site not in plots.sites:
            problems.append(
                Problem(
                    option,
                    f"The plot table has no site '{site}'.",
                    f"Its sites are {', '.join(plots.sites)}.",
                )
            )
        elif site in named:
            who = f"The site '{site}'" if site else "A value for all sites"
            problems.append(Problem(option, f"{who} is given twice.", "Give it once."))
        else:
            try:
                named[site] = choose(name)
            except InputError as error:
                problems += error.problems
    found: dict[str, Kind] = {}
    undecided = []
    for site in plots.sites:
        in_table = plots.table.loc[plots.table["site"] == site, column]
        in_table = in_table[in_table != ""]
        if site in named or "" in named:
            found[site] = named.get(site) or named[""]
        elif in_table.nunique() > 1:
            row = int(in_table.index[np.argmax(in_table != in_table.iloc[0])])
            problems.append(
                Problem(
                    f"{plots.place(row)}, column '{column}'",
                    f"The site '{site}' has both {in_table.iloc[0]} and {in_table[row]}.",
                    Text("Give its parts names of their own, or say ", option, f' "{site}=...".'),
                )
            )
        elif in_table.size:
            found[site] = choose(in_table.iloc[0])
        else:
            found[site] = choose(default)
            undecided.append(site)
    if problems:
        raise InputError(problems)
    if not undecided:
        return found, []
    where = "" if len(undecided) == len(plots.sites) else f" for {', '.join(undecided)}"
    text = f"No {column.replace('_', ' ')} is given{where}: {default} is taken."
    remedy = (" Say it with ", option, f', or "{undecided[0]}=..." for one site.')
    return found, [Text(text, *remedy)]
