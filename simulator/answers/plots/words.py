"""What plots say, in sentences: the answer first."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.answers.plots.calculate import DIFFERS, SMALL, Averaged, Curve, Found
from simulator.answers.plots.names import (
    bare,
    called,
    chance,
    curve_name,
    mass,
    plural,
    single,
    sure,
)
from simulator.answers.plots.weather_words import of_weather
from simulator.problems import Parameter, Text
from simulator.show import wording
from simulator.show.tables import paragraph
from simulator.trials.analysis.curves import NONE
from simulator.trials.analysis.factors import NITROGEN, SOWN
from simulator.trials.analysis.terms import Term
from simulator.trials.analysis.years import Standing

MOST_TERMS = 4  # interactions that sentences name
MOST_CURVES = 6


def heading(found: Found) -> str:
    """Say what was laid out where."""
    layout = found.layout
    rows = layout.rows
    plots = int(rows["plots"].sum())
    years = sorted({year for _, year in layout.envs})
    sites = list(dict.fromkeys(site for site, _ in layout.envs))
    treatments = " by ".join(
        f"{len(one.levels) - (one.control >= 0)} {plural(one.name)}" for one in layout.factors
    )
    blocks = rows.groupby("env")["block"].nunique()
    laid = "no blocks"
    if layout.has_blocks:
        most = int(blocks.max())
        laid = f"{_range_text(int(blocks.min()), most)} block{'' if most == 1 else 's'}"
    if layout.has_whole:
        held = [plural(name) for name in layout.whole_factors]
        laid += f", {wording.join(held) if held else 'sets of plots'} in whole plots"
    invented = " The data are invented." if found.plots.invented else ""
    return paragraph(
        f"{plots:,} plots of {found.plots.file}: {treatments}; {laid}; {wording.join(sites)}, "
        f"{wording.falls(years)}.{invented}"
    )


def _range_text(low: int, high: int) -> str:
    return str(low) if low == high else f"{low} to {high}"


def sentences(found: Found, system: units.System) -> list[str]:
    """Say what was found, the answer first."""
    ordered = sorted(found.averaged, key=lambda one: one.p if np.isfinite(one.p) else 2.0)
    texts = [_of_factor(found, one, system) for one in ordered]
    texts += _interactions(found)
    texts += _of_curves(found, system)
    texts += _of_years(found, system)
    for one in found.ordinary:
        texts += of_weather(found, one, system)
    texts += _of_residuals(found)
    texts.append(_model(found))
    return texts


def _of_factor(found: Found, one: Averaged, system: units.System) -> str:
    """Say whether a treatment made a difference, and whether it may be averaged over."""
    factor = found.layout.factors[one.place]
    name = plural(factor.name)
    high, low = (called(factor, at, system) for at in (one.high, one.low))
    difference = one.difference
    how = f"({sure(difference, difference.p, system)})"
    if (one.p < DIFFERS) != (difference.p < DIFFERS):
        how = f"{how[:-1]}; all levels together {chance(one.p)})"
    size = mass(abs(difference.value), system)
    if not np.isfinite(difference.error):
        return f"{_upper(name)}: {high} had {size} more than {low} {how}."
    apart = f"{high} brought {size} more than {low}"
    if one.differs:
        more = " Do not average over them." if not one.depends else ""
        return f"{_upper(name)} differed: {apart} {how}.{more}"
    text = f"{_upper(name)} did not differ on average: {apart} {how}"
    if one.depends:
        return (
            f"{text}, but what they do depends on the other treatments: do not average over them."
        )
    if one.with_years is not None:
        return f"{text}, but they did in single years ({chance(one.with_years.p)}): see each year."
    reach = max(abs(difference.low), abs(difference.high))
    if reach <= SMALL * found.overall_mean:
        return f"{text}; an average over them loses nothing."
    return (
        f"{text}; nothing speaks against an average over them, but so few plots or years would "
        f"miss a difference of up to {mass(reach, system)}."
    )


def _upper(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _interactions(found: Found) -> list[str]:
    """Name what depends on what."""
    held = [
        one
        for one in found.analysis.terms
        if one.p < 0.05 and (len(one.factors) > 1 or one.with_years)
    ]
    held.sort(key=lambda one: (len(one.factors), one.p))
    texts = []
    for one in held[:MOST_TERMS]:
        names = [single(name) for name in one.factors]
        if one.with_years and len(names) == 1:
            texts.append(
                f"What {names[0]} did differed from year to year beyond the spread of plots "
                f"({_test_text(one)}): a mean over years is that of these years."
            )
        elif one.with_years:
            texts.append(
                f"How {wording.join(names)} work together differed from year to year "
                f"({_test_text(one)})."
            )
        else:
            texts.append(
                f"What {names[0]} did depends on {wording.join(names[1:])} ({_test_text(one)}): "
                "take the combinations, not an average over any of them."
            )
    if len(held) > MOST_TERMS:
        texts.append(f"{len(held) - MOST_TERMS} more such lines stand in the analysis of variance.")
    return texts


def _test_text(one: Term) -> str:
    return f"F {one.f:.2f} on {one.df} and {one.error_df:g}, {chance(one.p)}"


def _of_curves(found: Found, system: units.System) -> list[str]:
    """Say what nitrogen brings by sowing, over all site-years or in the one there is."""
    main = main_curves(found)
    texts = [_of_curve(found, one, system) for one in main[:MOST_CURVES]]
    if len(main) > MOST_CURVES:
        texts.append("The other responses stand in the table.")
    brought = [one for one in main if one.gain.value > 0 and not one.gain.p >= DIFFERS]
    if brought and found.worth.ratio is None:
        texts.append(_break_even(found, brought, system))
    return texts


def main_curves(found: Found) -> list[Curve]:
    """Return the curves over all site-years, or of the only one."""
    own = -1 if len(found.analysis.envs) > 1 else found.analysis.which[0]
    return [one for one in found.curves if one.env == own]


def _of_curve(found: Found, one: Curve, system: units.System) -> str:
    where = _upper(curve_name(found.layout, one.sown, one.timing, system))
    choice = one.choice
    rates = choice.points.rates
    top, least = units.spell(rates[-1], "mass", system), units.spell(rates[0], "mass", system)
    least = least if rates[0] else "none"
    brought = (
        f"{top} of nitrogen brought {mass(one.gain.value, system)} over {least} "
        f"({sure(one.gain, one.gain.p, system)})"
    )
    if choice.best is None:
        return f"{where}: {brought}; too few rates or plots to choose a curve."
    weight = 100 * choice.weights[choice.best.form]
    doubt = f"{weight:.0f} percent of the weight"
    if choice.rivals:
        doubt += f"; {wording.join(choice.rivals)} about as well"
    if choice.best.form == NONE:
        text = f"{where}: no response to nitrogen is the best description ({doubt}); {brought}"
    else:
        text = f"{where}: {brought}; {choice.best.form} describes it best ({doubt})"
    if not np.isfinite(choice.rate):
        return f"{text}."
    pays = units.spell(choice.rate, "mass", system)
    if not np.isfinite(choice.low):
        return f"{text}; {pays} pays."
    return f"{text}; {pays} pays ({bare(choice.low, system)} to {bare(choice.high, system)})."


def _break_even(found: Found, main: list[Curve], system: units.System) -> str:
    """Say what biomass must be worth for the highest rate to pay on average."""
    best = max(main, key=lambda one: one.gain.value)
    rates = best.choice.points.rates
    worth = found.worth
    per_kg = worth.nitrogen * (rates[-1] - rates[0]) / best.gain.value
    unit, factor = ("ton", 907.18474) if system == "us" else ("tonne", 1000.0)
    return Text(
        f"At {worth.origin} the highest rate pays for itself where a {unit} of dry matter is worth "
        f"{per_kg * factor:,.0f} {worth.currency} or more; ",
        Parameter("value", f"'40 {worth.currency}/{unit}'"),
        " gives the rate that pays.",
    )


def _of_years(found: Found, system: units.System) -> list[str]:
    """Name the year that lies off most, in each respect."""
    texts = []
    for what in ("level", "response", "sowing"):
        own = [one for one in found.standings if one.what == what and np.isfinite(one.off)]
        if not own:
            continue
        most = max(own, key=lambda one: abs(one.off))
        texts.append(_of_standing(found, most, system))
    return texts


def _of_standing(found: Found, one: Standing, system: units.System) -> str:
    layout = found.layout
    year = layout.env_name(one.env)
    off = f"{abs(one.off):.1f} standard errors of the plots"
    among = (
        f", {abs(one.among):.1f} standard deviations of the other years"
        if np.isfinite(one.among)
        else ""
    )
    if one.what == "level":
        side = "above" if one.value > one.others else "below"
        odd = f"lies {mass(abs(one.value - one.others), system)} {side} the mean of the others"
        return f"Level: {year} is farthest off; it {odd} ({off}{among})."
    name = NITROGEN if one.what == "response" else SOWN
    factor = layout.factors[layout.factor(name)]
    high, low = (called(factor, at, system) for at in one.detail)
    values = f"{bare(one.value, system)} against {mass(one.others, system)} in the others"
    said = "Response" if one.what == "response" else "Order of sowings"
    if not one.odd:
        return (
            f"{said}: no year is odd; the farthest is {year}, {values} ({high} less {low}, {off})."
        )
    turned = (
        ": the order is turned round" if one.value * one.others < 0 and one.what == "sowing" else ""
    )
    return f"{said}: {year} is odd; {high} less {low} was {values} ({off}{among}){turned}."


def _of_residuals(found: Found) -> list[str]:
    seen = found.residuals
    if not seen.scales:
        return ["Too few single plots to look at residuals."] if seen.count else []
    texts = []
    if seen.grows:
        before = {(one.factors, one.with_years): one.p < 0.05 for one in found.analysis.terms}
        after = {(one.factors, one.with_years): one.p < 0.05 for one in found.other_scale}
        changed = [key for key in after if before.get(key) != after[key]]
        what = (
            "The spread of plots grows with their mean "
            f"(rank correlation {seen.growth:.2f}, {chance(seen.p)})"
        )
        mended = f"on a {seen.better} scale it is {seen.scales[seen.better][0]:.2f}"
        if seen.better == "plain":
            texts.append(f"{what}; neither a square root nor a logarithm mends it.")
        elif changed:
            names = [
                " by ".join(single(n) for n in names) + (" by year" if years else "")
                for names, years in changed
            ]
            texts.append(
                f"{what}; {mended}, and the verdict on {wording.join(names)} changes: take both "
                "with care."
            )
        else:
            texts.append(f"{what}; {mended}, and the same treatments differ.")
    else:
        texts.append(
            "Residuals show no spread that grows with the mean "
            f"(rank correlation {seen.growth:.2f})."
        )
    for line, off in seen.far[:3]:
        texts.append(
            f"{_upper(found.plots.row_word)} {line} lies {abs(off):.1f} standard deviations "
            f"{'above' if off > 0 else 'below'} what its treatment and block have: look at it."
        )
    return texts


def _model(found: Found) -> str:
    """Say which model was taken, and how to ask for another."""
    layout = found.layout
    what = "the strata of the layout" if found.method == "strata" else "a mixed model (REML)"
    units_of = "plots" if not layout.has_whole else "whole plots and plots"
    others: list[list[str]] = []
    if found.analysis.seasons == "random":
        years = (
            "site-years stand for others like them, so a difference is judged by how it varies "
            "between them"
        )
        others.append([Parameter("seasons", "fixed"), " judges these years alone"])
    elif len(found.analysis.envs) > 1:
        years = (
            f"a difference is judged by the spread among {units_of}, and speaks of these years "
            "alone"
        )
        others.append([Parameter("seasons", "random"), " takes them for others too"])
    else:
        years = f"a difference is judged by the spread among {units_of}; one year tells of no other"
    if found.method == "mixed":
        others.append([Parameter("method", "strata"), " takes the strata"])
    else:
        others.append([Parameter("method", "mixed"), " takes REML"])
    if not layout.has_whole and layout.has_blocks and layout.factor(SOWN) >= 0:
        others.append([Parameter("whole_plot", SOWN), " takes sowings as whole plots"])
    parts = [part for at, one in enumerate(others) for part in (["; "] if at else []) + one]
    return Text(f"Taken: {what}; {years}. For another: ", *parts, ".")


def headline(found: Found, system: units.System) -> tuple[list[str], list[str]]:
    """Say a chart's finding, and below it what the data are."""
    known = [one for one in found.averaged if np.isfinite(one.p)] or found.averaged
    best = min(known, key=lambda one: one.p if np.isfinite(one.p) else 2.0)
    factor = found.layout.factors[best.place]
    high, low = (called(factor, at, system) for at in (best.high, best.low))
    size = mass(abs(best.difference.value), system)
    title = f"{_upper(high)} brought {size} more than {low}"
    if not best.differs:
        title = f"No treatment stood out; {title[0].lower()}{title[1:]}"
    years = sorted({year for _, year in found.layout.envs})
    sites = wording.join(list(dict.fromkeys(site for site, _ in found.layout.envs)))
    below = [f"Plots at {sites}, {wording.falls(years)}. Bars: 95 percent intervals."]
    if found.plots.invented:
        below.append("The data are invented.")
    return [title], below
