"""What plots say, as tables."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from simulator import units
from simulator.answers.plots.calculate import Curve, Found
from simulator.answers.plots.names import bare, curve_name, level, plural, single
from simulator.show.tables import Column, paragraph, table
from simulator.trials.analysis.curves import NONE
from simulator.trials.analysis.factors import NITROGEN, SOWN
from simulator.trials.analysis.terms import Term

MOST_ROWS = 60  # of a table of combinations


def tables(found: Found, system: units.System) -> list[str]:
    """Print means, combinations, the analysis of variance, curves and years."""
    laid = [_means(found, system)]
    laid += [_two_way_table(found, pair, system) for pair in pairs(found)]
    laid.append(_variance(found))
    if found.curves:
        laid.append(_curves(found, system))
    if found.standings:
        laid.append(_years(found, system))
    return laid


def pairs(found: Found) -> list[tuple[int, int]]:
    """Return the pairs worth a table: treatments that work together, and sowing by nitrogen."""
    layout = found.layout
    usual = {layout.factor(SOWN), layout.factor(NITROGEN)}
    held = {
        frozenset(one.factors)
        for one in found.analysis.terms
        if len(one.factors) == 2 and one.p < 0.05 and not one.with_years
    }
    return [
        pair
        for pair in combinations(range(len(layout.factors)), 2)
        if set(pair) == usual or {layout.factors[at].name for at in pair} in held
    ]


def _means(found: Found, system: units.System) -> str:
    mass = units.label("mass", system)
    columns = [
        Column("treatment", left=True),
        Column("level", left=True),
        Column("mean", mass),
        Column("SE", mass),
        Column("plots"),
        Column("95 % difference\nfrom", mass),
    ]
    rows = []
    for place, factor in enumerate(found.layout.factors):
        for at, (levels, mean, plots) in enumerate(found.analysis.level_means([place])):
            # what two means of this error must differ by
            apart = (mean.high - mean.value) * np.sqrt(2.0)
            rows.append(
                [
                    single(factor.name) if at == 0 else "",
                    level(factor, levels[0], system),
                    bare(mean.value, system),
                    bare(mean.error, system),
                    f"{plots:,.0f}",
                    bare(apart, system),
                ]
            )
    note = (
        "Means over the other treatments, adjusted for missing plots. SE is for comparing means of "
        "one treatment: differences between years and blocks are taken out. Two means that differ "
        "by the last column differ at 95 percent, one pair by itself."
    )
    return f"{table(columns, rows)}\n\n{paragraph(note)}"


def _two_way_table(found: Found, pair: tuple[int, int], system: units.System) -> str:
    """Print one treatment down and the other across."""
    mass = units.label("mass", system)
    down, across = (found.layout.factors[at] for at in pair)
    means = {levels: (mean, plots) for levels, mean, plots in found.analysis.level_means(pair)}
    errors = [mean.error for mean, _ in means.values() if np.isfinite(mean.error)]
    columns = [Column(single(down.name), left=True)]
    columns += [Column(level(across, at, system)) for at in range(len(across.levels))]
    rows = []
    for one in range(len(down.levels)):
        cells = [means.get((one, other)) for other in range(len(across.levels))]
        if any(cells):
            shown = [bare(cell[0].value, system) if cell else "-" for cell in cells]
            rows.append([level(down, one, system), *shown])
    usual = f", SE {bare(float(np.median(errors)), system)}" if errors else ""
    title = paragraph(f"Means by {plural(down.name)} and {plural(across.name)} [{mass}]{usual}:")
    return f"{title}\n\n{table(columns, rows[:MOST_ROWS])}"


def term_name(one: Term) -> str:
    """Name a line of the analysis of variance."""
    names = [single(name) for name in one.factors]
    return " x ".join([*names, "year"] if one.with_years else names)


def _variance(found: Found) -> str:
    columns = [
        Column("analysis of variance", left=True),
        Column("in", left=True),
        Column("df"),
        Column("mean square"),
        Column("F"),
        Column("on"),
        Column("p"),
    ]
    rows = []
    for one in found.analysis.terms:
        tested = np.isfinite(one.f)
        rows.append(
            [
                term_name(one),
                one.stratum,
                str(one.df),
                f"{one.mean_square:,.0f}",
                f"{one.f:.2f}" if tested else "-",
                f"{one.error_df:g}" if tested else "-",
                ("<0.001" if one.p < 0.001 else f"{one.p:.3f}") if tested else "-",
            ]
        )
    for name, (squares, df) in found.analysis.errors.items():
        square = f"{squares / df:,.0f}" if df else "-"
        rows.append([f"left among {name}", name, str(df), square, "", "", ""])
    judged = (
        "Treatments are judged by how they differ between years (x year), these by the plots."
        if found.analysis.seasons == "random"
        else "Each is judged by what is left in its stratum."
    )
    note = f"{judged} Each line is adjusted for all that do not contain it; squares in kg/ha."
    return f"{table(columns, rows)}\n\n{paragraph(note)}"


def _curves(found: Found, system: units.System) -> str:
    mass = units.label("mass", system)
    several_envs = len(found.analysis.envs) > 1
    priced = found.worth.ratio is not None
    columns = [
        *([Column("fall", left=True)] if several_envs else []),
        Column("nitrogen", left=True),
        Column("best form", left=True),
        Column("weight", "%"),
        Column("also", left=True),
        Column("highest rate\nbrought", mass),
        *([Column("rate that\npays", mass)] if priced else []),
    ]
    rows = [_curve_row(found, one, system, several_envs, priced) for one in found.curves]
    note = (
        "Forms tried: none, straight line, quadratic, line and plateau, exponential rise; chosen "
        "by AICc, its weight beside it, and under 'also' what is within 2 of it. Brackets hold "
        "95 percent."
    )
    if priced:
        note += (
            f" Prices: {found.worth.origin}. The interval of the rate that pays holds "
            "the doubt about the form; no rate beyond those tried is looked at."
        )
    return f"{table(columns, rows)}\n\n{paragraph(note)}"


def _curve_row(
    found: Found, one: Curve, system: units.System, several_envs: bool, priced: bool
) -> list[str]:
    choice = one.choice
    form, weight = ("too few", "-")
    if choice.best is not None:
        form = _short_form_names([choice.best.form])
        weight = f"{100 * choice.weights[choice.best.form]:.0f}"
    year = "all" if one.env < 0 else found.layout.env_name(one.env)
    pays = _with_range(choice.rate, choice.low, choice.high, system)
    return [
        *([year] if several_envs else []),
        curve_name(found.layout, one.sown, one.timing, system),
        form,
        weight,
        _short_form_names(choice.rivals),
        _with_range(one.gain.value, one.gain.low, one.gain.high, system),
        *([pays] if priced else []),
    ]


def _short_form_names(forms: Sequence[str]) -> str:
    names = {
        NONE: "no response",
        "straight line": "straight",
        "line and plateau": "plateau",
        "exponential rise": "exponential",
    }
    return ", ".join(names.get(form, form) for form in forms)


def _with_range(value: float, low: float, high: float, system: units.System) -> str:
    text = bare(value, system)
    if not np.isfinite(low):
        return text
    return f"{text} ({bare(low, system)} to {bare(high, system)})"


def _years(found: Found, system: units.System) -> str:
    mass = units.label("mass", system)
    columns = [
        Column("fall", left=True),
        Column("in", left=True),
        Column("this", mass),
        Column("others", mass),
        Column("standard\nerrors off"),
        Column("SDs of\nothers"),
        Column("", left=True),
    ]
    rows = []
    for one in found.standings:
        named = one.what
        if one.what != "level":
            factor = found.layout.factors[
                found.layout.factor(NITROGEN if one.what == "response" else SOWN)
            ]
            high, low = (level(factor, at, system) for at in one.detail)
            named = f"{'nitrogen' if one.what == 'response' else 'sown'} {high} less {low}"
        rows.append(
            [
                found.layout.env_name(one.env),
                named,
                bare(one.value, system),
                bare(one.others, system),
                f"{one.off:+.1f}",
                f"{one.among:+.1f}" if np.isfinite(one.among) else "-",
                "odd" if one.odd else "",
            ]
        )
    note = "Each year beside the mean of the others; odd from 3 standard errors of the plots on."
    return f"{table(columns, rows[: 4 * MOST_ROWS])}\n\n{paragraph(note)}"
