"""Agreement in sentences: how near, how biased, and where most."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.agree import contrasts
from simulator.answers.agree.data import SPELLED
from simulator.answers.agree.table import falls
from simulator.show import wording
from simulator.show.tables import number, paragraph
from simulator.trials.agreement import FIELD_BAND, Agreement

if TYPE_CHECKING:
    from simulator.trials.skill import Skill

LARGEST_NAMED = 3  # misses that a sentence names
MOST_PLACES = 3  # that a chart names
LEANING = 0.25  # share of the squared error that is bias, from which on errors lean one way


def heading(answer: Agreement) -> str:
    """Say what was simulated beside what."""
    rows = answer.rows
    kinds = wording.join(sorted(set(rows["cereal"])))
    grounds = [
        f"{site} on {some['soil'].iloc[0]} after {some['previous_crop'].iloc[0]}"
        for site, some in rows.groupby("site", sort=False)
    ]
    invented = " The data are invented." if answer.plots.invented else ""
    return paragraph(
        f"{kinds.capitalize()} in {_count_text(len(rows), 'row')} of {answer.plots.file}, "
        f"simulated and measured: {wording.join(grounds)}; {falls(answer)}.{invented}"
    )


def _count_text(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def sentences(answer: Agreement, system: units.System) -> list[str]:
    """Say what the numbers mean: how near, how one-sided, and where the largest misses are."""
    texts = [*_error_sentences(answer.skill(), system), _bias_sentence(answer, system)]
    texts += [_field_band(answer, system)] if answer.inside()[1] else []
    texts += [_by_group(answer, system)] if len(answer.by("site")) > 1 else []
    texts += contrasts.sentences(answer, system)
    texts += [_largest_misses_sentence(answer, system)] if len(answer.rows) > LARGEST_NAMED else []
    for name, one in answer.others().items():
        spelled, unit, digits = SPELLED[name]
        sign = " %" if unit == "%" else ""
        mean = f"{one.mean_observed:.{digits}f}{sign}"
        apart = f"{abs(one.bias):.{digits}f}"
        where = f"{apart}{' points' if sign else ''} {'above' if one.bias > 0 else 'below'}"
        where = where if float(apart) else "at"
        texts.append(
            f"Mean simulated {spelled} lies {where} the mean observed, {mean} "
            f"({_count_text(one.n, 'row')})."
        )
    return texts


def _field_band(answer: Agreement, system: units.System) -> str:
    """Say how many plots lie in the field band, and how far off the model was on unseen fields."""
    inside, known = answer.inside()
    one = answer.error
    lie = "lies" if inside == 1 else "lie"
    return (
        f"{inside:,} of {_count_text(known, 'row')} ({100 * inside / known:.0f} %) {lie} in the "
        f"band that is to hold {100 * FIELD_BAND:.0f} % of plots in fields that the model has not "
        f"seen; in {one.seasons:.0f} site-seasons that it had not seen it was off by "
        f"{_mass(one.rmse, system)} (RMSE; docs/skill.md)."
    )


def _mass(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


def _error_sentences(one: Skill, system: units.System) -> list[str]:
    off = f"Simulated biomass is off by {_mass(one.rmse, system)} (RMSE)"
    if np.isfinite(one.nrmse):
        off += f", {100.0 * one.nrmse:.0f} % of the observed mean"
    texts = []
    if not np.isfinite(one.plot_sd):
        texts.append(f"{off}. The table gives no spread among plots to hold that against.")
    elif one.plot_sd == 0:
        texts.append(f"{off}; plots treated alike do not differ at all in the table.")
    elif one.rmse <= one.plot_sd:
        texts.append(f"{off}: within the plots' own spread of {_mass(one.plot_sd, system)}.")
    else:
        texts.append(
            f"{off}: {one.rmse / one.plot_sd:.1f} times the plots' own spread of "
            f"{_mass(one.plot_sd, system)}."
        )
    if np.isfinite(one.mean_se):
        texts.append(
            f"Against these means even a perfect model would be off by about "
            f"{_mass(one.mean_se, system)}."
        )
    if one.nash_sutcliffe < 0:
        texts.append(
            "The mean of what was observed would serve better than the simulation "
            f"(Nash-Sutcliffe {one.nash_sutcliffe:.2f})."
        )
    return texts


def _bias_sentence(answer: Agreement, system: units.System) -> str:
    one = answer.skill()
    if one.rmse == 0:
        return "Simulated and observed are the same in every row."
    high = int((answer.rows["residual_kg_ha"] > 0).sum())
    share = (one.bias / one.rmse) ** 2
    side, count = ("much", high) if one.bias > 0 else ("little", one.n - high)
    leans = f"It gives too {side} in {count} of {_count_text(one.n, 'row')}, by "
    leans += f"{_mass(abs(one.bias), system)} on average over all"
    if share >= LEANING:
        return f"{leans}: the errors lean one way ({100 * share:.0f} % of their square is bias)."
    return f"{leans}: the errors go both ways (only {100 * share:.0f} % of their square is bias)."


def _by_group(answer: Agreement, system: units.System) -> str:
    parts = [
        f"{abs_text} too {'much' if one.bias > 0 else 'little'} at {site}"
        for site, one in answer.by("site").items()
        for abs_text in [_mass(abs(one.bias), system)]
    ]
    return f"By site it gives {wording.join(parts)}, on average."


def _largest_misses_sentence(answer: Agreement, system: units.System) -> str:
    rows = answer.rows
    order = rows["residual_kg_ha"].abs().sort_values(ascending=False).index[:LARGEST_NAMED]
    parts = [
        f"{answer.plots.row_word} {row.line} ({row.site}, fall {row.year}: "
        f"{number(row.simulated_biomass_kg_ha, 'mass', system)} simulated, "
        f"{number(row.biomass_kg_ha, 'mass', system)} observed)"
        for row in rows.loc[order].itertuples()
    ]
    return f"The largest misses [{units.label('mass', system)}] are {wording.join(parts)}."


def headline(answer: Agreement, system: units.System) -> tuple[list[str], list[str]]:
    """Say a chart's finding, and below it what the data are."""
    one = answer.skill()
    spread = units.spell(one.plot_sd, "biomass", system) if np.isfinite(one.plot_sd) else ""
    found = f"Simulated biomass is off by {units.spell(one.rmse, 'biomass', system)}"
    if not spread:
        lines = [f"{found}, {100 * one.nrmse:.0f} % of the observed mean"]
    elif one.rmse <= one.plot_sd:
        lines = [f"{found},", f"within the plots' own spread of {spread}"]
    else:
        lines = [f"{found},", f"beyond the plots' own spread of {spread}"]
    kinds = wording.join(sorted(set(answer.rows["cereal"])))
    sites = list(answer.by("site"))
    where = wording.join(sites) if len(sites) <= MOST_PLACES else f"{len(sites)} sites"
    below = [f"{kinds.capitalize()} at {where}: {_count_text(one.n, 'row')}, {falls(answer)}."]
    if answer.rows["biomass_sd_kg_ha"].notna().any():
        below.append("Bars: one standard deviation among plots. Dashed: simulated equals observed.")
    below += [
        f"Gray: to hold {10 * FIELD_BAND:.0f} of 10 plots in fields that the model has not seen.",
        "Shaded about 0: off by no more than the title says.",
    ]
    if max(answer.gains().n, answer.responses().n) >= contrasts.FEWEST_PAIRS:
        below.append("Growth: between samplings of a stand. Response: with nitrogen less without.")
    if answer.plots.invented:
        below.append("The data are invented.")
    return lines, below
