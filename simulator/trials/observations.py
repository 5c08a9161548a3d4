"""Plot tables in: what was sown, fed and measured, every fault with its row and column."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from simulator import units
from simulator.problems import InputError, Parameter, Problem, Text
from simulator.season.seasons import latitude_of
from simulator.trials.plot_checks import judge
from simulator.trials.plot_defaults import with_defaults
from simulator.trials.plot_parsing import Reading, rows_of
from simulator.trials.plot_runs import Plot, PlotRuns
from simulator.weather.fall_year import why_not
from simulator.weather.files.record_check import checked
from simulator.weather.files.tables.about import read_about
from simulator.weather.record import fill_short_gaps

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, slots=True)
class Plots:
    """A plot table, checked.

    Parameters
    ----------
    table : DataFrame
        A row for each row of the file, SI: the columns of `plot_columns.COLUMNS`, ``year`` (fall
        year) and ``line`` (the line in an editor, or the row of a spreadsheet). Numbers that were
        not given are NaN, dates NaT and texts empty, but for the defaults that ``notes`` tell.
    file, row_word : str
        Name of the file; ``"line"`` or ``"row"``.
    system : {"us", "si"}
        Units that the biomass was written in.
    invented : bool
        Whether the table says that its data are.
    notes : tuple of str
        What was taken as a default or left aside.
    doubts : tuple of Problem
        What deserves a look.
    own : tuple of str
        Columns that are none of ours, as text in the table: treatments of the trial's own.
    """

    table: pd.DataFrame
    file: str
    row_word: str = "line"
    system: units.System = "si"
    invented: bool = False
    notes: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()
    own: tuple[str, ...] = ()

    @property
    def sites(self) -> list[str]:
        """Names of the sites, in the order of the file."""
        return [str(site) for site in self.table["site"].unique()]

    def place(self, row: int) -> str:
        """Say where the user finds a row of the table."""
        return f"{self.file}, {self.row_word} {self.table['line'].iloc[row]}"

    def covered_by(self, records: Mapping[str, xr.Dataset]) -> tuple[Plots, list[str]]:
        """Part the rows whose season the weather covers from those it does not.

        Parameters
        ----------
        records : mapping of str to Dataset(time)
            Weather by site.

        Returns
        -------
        Plots
            The rows that can run.
        list of str
            For each of the others, its row and why.

        Raises
        ------
        InputError
            A site without weather or weather without site; no latitude in either; no row covered.
        """
        filled = {site: fill_short_gaps(one) for site, one in self._placed(records).items()}
        keep, problems = np.ones(len(self.table), dtype=bool), []
        for row, plot in enumerate(self.plots()):
            if why := why_not(filled[plot.site], plot.year, plot.sown, plot.sampled):
                keep[row] = False
                what = f"Season {plot.year} at {plot.site}: {why}"
                problems.append(Problem(self.place(row), what, "Give weather of that season."))
        if not keep.any():
            raise InputError(problems)
        left_out = [f"{problem.where}: {problem.what}" for problem in problems]
        return replace(self, table=self.table[keep].reset_index(drop=True)), left_out

    def runs(self, records: Mapping[str, xr.Dataset]) -> PlotRuns:
        """Set every row beside its weather, ready to simulate; `covered_by` first parts the rest.

        Raises
        ------
        InputError
            As `covered_by`, and where the weather does not cover every row.
        """
        return PlotRuns(self.plots(), self._placed(records))

    def plots(self) -> list[Plot]:
        """Return the rows as the model runs them."""
        return [_plot(row) for row in self.table.itertuples()]

    def latitude(self, site: str, records: Mapping[str, xr.Dataset]) -> float:
        """Return a site's latitude [degrees north]: its weather's, else that of its plots."""
        own = records[site].attrs.get("latitude")
        if own is not None and np.isfinite(float(own)):
            return float(own)
        return float(self.table.loc[self.table["site"] == site, "latitude"].median())

    def _placed(self, records: Mapping[str, xr.Dataset]) -> dict[str, xr.Dataset]:
        """Give each site's weather the latitude of the plots where it has none."""
        problems = [
            Problem(
                self.place(row),
                f"The site '{site}' has no weather.",
                Text(
                    "Give ",
                    Parameter("weather", f'"{site}=FILE"'),
                    f"; the weather given is of {', '.join(records) or 'no site'}.",
                ),
            )
            for site in self.sites
            if site not in records
            for row in [int(np.argmax(self.table["site"] == site))]
        ]
        problems += [
            Problem(
                Parameter("weather", f"{site}=..."),
                f"The plot table has no site '{site}'.",
                f"Its sites are {', '.join(self.sites)}.",
            )
            for site in records
            if site not in self.sites
        ]
        placed = {}
        for site in self.sites:
            rows = np.flatnonzero(self.table["site"] == site)
            if site not in records:
                continue
            degrees = self.table["latitude"].iloc[rows].median()
            record = checked(records[site])
            own = record.attrs.get("latitude")
            if own is not None and np.isfinite(float(own)):
                placed[site] = record
            elif np.isfinite(degrees):
                placed[site] = record.assign_attrs(latitude=float(degrees))
            else:
                problems.append(
                    Problem(
                        self.place(rows[0]),
                        f"Neither the plot table nor the weather says the latitude of '{site}'.",
                        "Add a column latitude, in degrees north.",
                    )
                )
                continue
            latitude_of(placed[site])
        if problems:
            raise InputError(problems)
        return placed


def _plot(row: Any) -> Plot:
    fed = (
        (row.fall_nitrogen_date, row.nitrogen_fall_kg_ha),
        (row.spring_nitrogen_date, row.nitrogen_spring_kg_ha),
    )
    return Plot(
        site=row.site,
        year=row.year,
        sown=_of_season(row.sown),
        sampled=_of_season(row.sampled),
        seeding=row.seeding_kg_ha,
        cereal=row.cereal,
        fertilizer=row.fertilizer,
        dressings=tuple((_of_season(when), amount) for when, amount in fed if amount > 0),
        mineral_nitrogen=_given(row.mineral_nitrogen_at_sowing_kg_ha),
        mineral_nitrogen_depth=_given(row.mineral_nitrogen_depth_cm),
    )


def _given(number: float) -> float | None:
    return float(number) if np.isfinite(number) else None


def _of_season(day: pd.Timestamp) -> str:
    """Return month-day; a season has no 29 February, so the day before stands for it."""
    return "02-28" if (day.month, day.day) == (2, 29) else f"{day.month:02d}-{day.day:02d}"


def read_plots(
    path: str | Path, *, date_format: str | None = None, with_own: bool = False
) -> Plots:
    """Read a plot table.

    Parameters
    ----------
    path : str or Path
        CSV, TSV or .xlsx, with a header of `plot_columns.COLUMNS`; units may stand in the header
        instead: ``biomass (lb/acre)``. Several rows of one treatment are its replicates.
    date_format : str, optional
        ``"DD/MM/YYYY"`` or its like, where dates do not begin with the year.
    with_own : bool
        Keep columns that are none of `plot_columns.COLUMNS`, as text.

    Returns
    -------
    Plots

    Raises
    ------
    InputError
        With every fault found, each with its row and column.
    """
    rows, notes = rows_of(Path(path))
    reading = Reading(rows, list(notes))
    reading.find_columns()
    if not reading.body:
        raise InputError(reading.problems)
    table = reading.values(date_format)
    own = reading.own_columns(table) if with_own else ()
    if not reading.problems:
        table = with_defaults(reading, table)
        judge(reading, table)
    if reading.problems:
        raise InputError(reading.problems)
    return Plots(
        table,
        rows.file,
        rows.row_word,
        reading.system,
        read_about(rows.comments).get("invented", "").lower() in ("yes", "true"),
        tuple(reading.notes),
        tuple(reading.doubts),
        own,
    )
