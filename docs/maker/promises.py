"""What ranges and chances promise, held against the open trials: each place foretold without it.

``python -m docs.maker promises`` renews the section of the page of the outlook, in some seconds:
from what is kept of fits without each place (``left_out.csv``), and the seasons of the same plots
in the other falls of their records.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from docs.maker import errors, yardstick
from docs.maker.open_trials import OPEN_DATA, OpenTrials, open_trials
from docs.maker.scores import mean
from docs.maker.tables import table
from simulator.answers.shared.few_falls import crps, weighted_quantiles
from simulator.parameters.cereals import CEREALS
from simulator.parameters.field_spread import RYE
from simulator.parameters.model_error import PROMISES, ModelError
from simulator.trials import clippings
from simulator.trials.contrasts import gains

Array = np.ndarray[Any, Any]
Members = list[Array]  # of each row, equally likely

PAGE = Path(__file__).parents[1] / "outlook.md"
BEGINS, ENDS = "<!-- promises -->", "<!-- end of promises -->"
FEWEST = 2  # other falls, for what is told before the season
DATES = ("sown", "sampled", "fall_nitrogen_date", "spring_nitrogen_date")
TARGET = 3000.0  # kg/ha, whose chance is held against what was found; half of the rows have it


@dataclass(frozen=True)
class Told:
    """One way of telling what stands, for each row.

    Parameters
    ----------
    name : str
    members : list of array
    """

    name: str
    members: Members

    def score(self, measured: Array, weights: Array) -> float:
        """Return the continuous ranked probability score [kg/ha]."""
        each = [crps(own, np.asarray(y)) for own, y in zip(self.members, measured, strict=True)]
        return mean(np.array(each, float), weights)

    def inside(self, measured: Array, weights: Array, promise: float) -> float:
        """Return the share of the measured within the band that is to hold a share."""
        ends = [np.quantile(own, [0.5 - promise / 2, 0.5 + promise / 2]) for own in self.members]
        low, high = np.array(ends).T
        return mean(((measured >= low) & (measured <= high)).astype(float), weights)

    def chance(self, target: float) -> Array:
        """Return the chance of a target for each row."""
        return np.array([(own >= target).mean() for own in self.members])


def other_falls(trials: OpenTrials) -> list[Array]:
    """Simulate each row's plot in the other falls of its record: array (fall,) for each row.

    Returns
    -------
    list of array
        The first is the row's own fall [kg/ha].
    """
    rows = trials.plots.table.reset_index(drop=True)
    parts = [rows.assign(own=rows.index)]
    for site, record in trials.records.items():
        first, last = (int(str(day)[:4]) for day in record["time"].values[[0, -1]])
        of_site = rows[rows["site"] == site]
        for year in range(first, last + 1):
            moved = of_site[of_site["year"] != year].copy()
            for name in DATES:
                by = pd.Series(year - moved["year"], moved.index)
                days = [_moved(d, n) for d, n in zip(moved[name], by, strict=True)]
                moved[name] = pd.Series(days, moved.index, dtype=rows[name].dtype)
            parts.append(moved.assign(own=moved.index, year=year))
    made = pd.concat(parts, ignore_index=True)
    plots = replace(trials.plots, table=made)
    covered, _ = plots.covered_by(trials.records)
    runs = covered.runs(trials.records)
    grown = np.nan_to_num(
        runs.simulate(CEREALS, trials.site_soils, trials.site_crops)["biomass_kg_ha"]
    )
    owners = covered.table["own"].to_numpy()
    return [grown[owners == row] for row in range(len(rows))]


def _moved(day: pd.Timestamp, years: int) -> pd.Timestamp:
    return day if pd.isna(day) else day + pd.DateOffset(years=int(years))


def with_weather(trials: OpenTrials) -> tuple[list[Told], list[ModelError], errors.Errors]:
    """Tell what stands with the season's weather known, each place by the others.

    Returns
    -------
    list of Told
        The model alone, with its error, and the regression with its own.
    list of ModelError
        The model's for each row, found at the other places.
    Errors
        What was foretold and measured.
    """
    rows = trials.plots.table.reset_index(drop=True)
    level = errors.kept(rows)["level"]
    weights, place = level.weights, level.place
    given = yardstick.bent(yardstick.columns(rows, trials.records))
    part_of = np.unique(place, return_inverse=True)[1]
    regressed = yardstick.left_out(given, level.measured, weights, part_of)
    lines = replace(level, simulated=np.maximum(regressed, 0.0))
    sets = {one: _sets(level, lines, place == one) for one in np.unique(place)}
    model = [sets[one][0] for one in place]
    known = [
        Told("the model alone", [np.array([one]) for one in level.simulated]),
        Told("the model and the field", _in_fields(level.simulated[:, None], model)),
        Told(
            "the regression and its error",
            _in_fields(lines.simulated[:, None], [sets[one][1] for one in place]),
        ),
    ]
    return known, model, level


def told(trials: OpenTrials) -> tuple[list[Told], list[Told], Array, errors.Errors]:
    """Tell what stands, each place by the others.

    Returns
    -------
    known, before : list of Told
        With the season's weather, and before it: of the rows that `Array` says.
    some : bool array (row,)
    level : Errors
        What was foretold and measured.
    """
    known, model, level = with_weather(trials)
    falls = other_falls(trials)
    some = np.array([len(own) > FEWEST for own in falls])
    # the shipped model has seen these places: its falls are moved by what the fit without the place
    # changes in the season itself
    offset = errors.OFFSET
    moved = [
        np.maximum((own[1:] + offset) * (left + offset) / (own[0] + offset) - offset, 0.0)
        for own, left, there in zip(falls, level.simulated, some, strict=True)
        if there
    ]
    of_some = [one for one, there in zip(model, some, strict=True) if there]
    before = [
        Told("falls alone", moved),
        Told("falls and field", _in_fields(moved, of_some)),
        *[replace(one, members=_some(one.members, some)) for one in known[1:]],
    ]
    return known, before, some, level


def _some(members: Members, which: Array) -> Members:
    return [own for own, there in zip(members, which, strict=True) if there]


def _sets(level: errors.Errors, lines: errors.Errors, out: Array) -> tuple[ModelError, ModelError]:
    """Find the errors of model and regression in all other places."""
    return errors.found(level.some(~out)), errors.found(lines.some(~out))


def _in_fields(simulated: Any, sets: list[ModelError]) -> Members:
    return [one.in_fields(own).ravel() for own, one in zip(simulated, sets, strict=True)]


def clipped(trials: OpenTrials, level: errors.Errors) -> list[str]:
    """Write what a clipping is worth: second samplings of stands, with and without the first."""
    rows = trials.plots.table.reset_index(drop=True)
    second = gains(rows)["second"].to_numpy()
    few = level.some(second)
    model = {one: errors.found(level.some(level.place != one)) for one in np.unique(level.place)}
    pairs = clippings.pairs(trials.plots, trials.records, trials.site_soils, trials.site_crops, RYE)
    without = Told(
        "the model and the field",
        _in_fields(few.simulated[:, None], [model[one] for one in few.place]),
    )
    alone = Told("the model alone", [np.array([one]) for one in few.simulated])
    told_by = Told(
        "the outlook, with the first sampling",
        [_alike(*clippings.predict(pair, RYE)) for pair in pairs],
    )
    return [
        f"What is a clipping worth? Of {len(pairs)} second samplings of stands in "
        f"{len(set(few.season))} site-seasons, 8 to 48 days after a first one, each site-season "
        "counting once. The outlook with the first sampling has the parameters as shipped, which "
        "saw these seasons: it is flattered.",
        table(
            ["second samplings", "score, kg/ha", "inside its 80 % band, %"],
            [
                [
                    one.name,
                    f"{one.score(few.measured, few.weights):,.0f}",
                    f"{100 * one.inside(few.measured, few.weights, 0.8):.0f}",
                ]
                for one in (alone, without, told_by)
            ],
        ),
    ]


def _alike(members: Array, weights: Array, number: int = 400) -> Array:
    """Return members that are equally likely, for some that are not."""
    levels = (np.arange(number) + 0.5) / number
    return np.asarray(weighted_quantiles(members, weights, levels.tolist()))


def section(trials: OpenTrials) -> list[str]:
    """Write the section of the page, between its marks."""
    known, before, some, level = told(trials)
    measured, weights = level.measured, level.weights
    few = level.some(some)
    in_season, ahead = (
        [[one.name, f"{one.score(y, w):,.0f}"] for one in ways]
        for ways, y, w in ((known, measured, weights), (before, few.measured, few.weights))
    )
    held = [
        [f"{100 * promise:.0f}"]
        + [f"{100 * one.inside(measured, weights, promise):.0f}" for one in known[1:]]
        + [f"{100 * one.inside(few.measured, few.weights, promise):.0f}" for one in before[:2]]
        for promise in PROMISES
    ]
    return [
        BEGINS,
        "`python -m docs.maker promises` makes this section. Each place of the open trials "
        f"(Huddell et al. 2024, Scientific Data 11:200; {level.season.size} rows, "
        f"{len(set(level.season))} site-seasons at {len(set(level.place))} places) is predicted by "
        "fits without it, with an error found at the other places; each site-season counts once. "
        "The continuous ranked probability score is in kg/ha; of a single number it is the error.",
        table(["the season's weather known", "score, kg/ha"], in_season),
        f"Before the season the weather is that of the other falls of a record, where it has "
        f"{FEWEST} or more ({few.season.size} rows, {len(set(few.season))} site-seasons). The last "
        "two know the season's weather, on the same rows.",
        table(["before the season", "score, kg/ha"], ahead),
        "Does a band hold what it promises (%)? Falls alone are the falls of short records, so "
        "that their band is narrower than 30 falls would make it.",
        table(["promised", *(one.name for one in (*known[1:], *before[:2]))], held),
        f"And does {TARGET:,.0f} kg/ha come as often as its chance says? Rows by the chance told "
        "with the weather known, each site-season counting once:",
        _chances(known[:2], measured, weights),
        *clipped(trials, level),
        ENDS,
    ]


def _chances(ways: list[Told], measured: Array, weights: Array) -> str:
    edges = ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01))
    came = (measured >= TARGET).astype(float)
    rows = []
    for low, high in edges:
        cells = [f"{100 * low:.0f} to {100 * min(high, 1.0):.0f}"]
        for one in ways:
            chance = one.chance(TARGET)
            there = (chance >= low) & (chance < high)
            if there.any():
                promised, found = (mean(x[there], weights[there]) for x in (chance, came))
                cells += [
                    f"{weights[there].sum():.1f}",
                    f"{100 * promised:.0f}",
                    f"{100 * found:.0f}",
                ]
            else:
                cells += ["0", "", ""]
        rows.append(cells)
    header = ["chance told, %"]
    for name in ("model alone", "and the field"):
        header += [f"{name}: site-seasons", "promised", "found"]
    return table(header, rows)


def renew(folder: Path = OPEN_DATA, page: Path = PAGE) -> str:
    """Renew the section, and say so."""
    from docs.maker.skill import laid_out

    if not (folder / "trials").is_dir():
        return f"The open trials are not here (no folder {folder.parent.name}/{folder.name})."
    text = page.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGINS)
    _, _, after = rest.partition(ENDS)
    laid = laid_out(section(open_trials(folder))).rstrip()
    page.write_text(f"{before}{laid}{after}", encoding="utf-8")
    return f"Renewed: {page.name}"
