"""How the response to nitrogen looks: its tables, and what they are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, isfinite
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.response.calculate import ALL, FATES, Response, spoken_rate
from simulator.answers.response.forecast import ForecastValue
from simulator.answers.response.sowing_pairs import Pair
from simulator.answers.shared.field_ranges import meaning, range_cells, range_columns
from simulator.answers.shared.response_curves import Curve
from simulator.parameters.model_error import SHIPPED, ModelErrors
from simulator.show import wording
from simulator.show.tables import NOTHING, Column, number, paragraph, plain_number, table

if TYPE_CHECKING:
    import xarray as xr

FATE_TITLES = {
    "shoots": "shoots",
    "roots": "roots",
    "frost_killed": "frost",
    "shed_leaves": "dead\nleaf",
    "leached": "leached",
    "denitrified": "denit-\nrified",
    "volatilised": "ammo-\nnia",
    "left_in_soil": "in\nsoil",
    "tied_up": "tied\nup",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """All that the answer shows.

    Parameters
    ----------
    plans : Dataset
        From `one_plan`.
    responses, yearly : list of Response
        By kind of year; by year, for the first timing.
    pairs : list of Pair
        For the first timing.
    value : ForecastValue or None
        For the first sowing.
    kinds_by : str
        How the years were sorted.
    errors : ModelErrors
        How far off the model is.
    """

    plans: xr.Dataset
    responses: list[Response]
    yearly: list[Response]
    pairs: list[Pair]
    value: ForecastValue | None
    kinds_by: str
    errors: ModelErrors = SHIPPED

    @property
    def timings(self) -> list[str]:
        """When the nitrogen goes on."""
        return [str(value) for value in self.plans["nitrogen_timing"].values]

    @property
    def has_kinds(self) -> bool:
        """Whether the years are sorted."""
        return any(r.kind != ALL for r in self.responses)

    @property
    def first(self) -> Response:
        """The first sowing and timing over all falls."""
        return self.responses[0]

    def of(self, **wanted: str) -> list[Response]:
        """Responses of a sowing, timing or kind."""
        return [
            r
            for r in self.responses
            if all(getattr(r, name) == value for name, value in wanted.items())
        ]


def whole_percents(shares: Sequence[float]) -> list[int]:
    """Round shares that add up to 1 to whole percents that add up to 100."""
    exact = [100.0 * share for share in shares]
    if not all(map(isfinite, exact)):
        return []
    found = [floor(value) for value in exact]
    by_rest = sorted(range(len(exact)), key=lambda i: found[i] - exact[i])
    for i in by_rest[: max(round(sum(exact)) - sum(found), 0)]:
        found[i] += 1
    return found


def tables(shown: Shown, system: units.System) -> list[str]:
    """Print what nitrogen brings, biomass by rate, kinds, curves, where it went, pairs, years."""
    laid = [_gains_table(shown, system), _biomass(shown, system)]
    if shown.has_kinds:
        laid.append(_kinds(shown, system))
    laid += [_curves(shown, system), _fates(shown, system)]
    if shown.pairs:
        laid.append(_pairs(shown, system))
    if len(shown.yearly) > 1:
        laid.append(_years(shown, system))
    return [
        *laid,
        paragraph(
            f"{meaning(shown.first.falls)} Gained is biomass more than at the lowest rate; a slope "
            "is biomass for each unit of nitrogen by weight. A curve is fitted to the means at the "
            "rates tried and chosen by AICc; it tells of the model's response and not of how far "
            "fields differ."
        ),
    ]


def _rate(value: float, system: units.System) -> str:
    return units.spell(value, "nitrogen", system)


def _gains_table(shown: Shown, system: units.System) -> str:
    """Print what the spoken rate brings each sowing, by the time it goes on."""
    rows = [
        [_timing_in_lines(timing) if not i else "", *_response_cells(shown, r, system)]
        for timing in shown.timings
        for i, r in enumerate(shown.of(timing=timing, kind=ALL))
    ]
    columns = [Column("nitrogen", left=True), *_gained_columns(shown, system)]
    spoken = _rate(spoken_rate(shown.plans), system)
    return f"What {spoken} of nitrogen brings, over all falls:\n\n{table(columns, rows)}"


def _timing_in_lines(timing: str) -> str:
    """Spell a timing as a narrow column has it."""
    return wording.dates_in(timing).replace("+ ", "+\n")


def _gained_columns(shown: Shown, system: units.System, *more: Column) -> list[Column]:
    mass = units.label("biomass", system)
    return [
        Column("sown", left=True),
        *more,
        Column("biomass\nwithout", mass),
        Column("gained", mass),
        *range_columns(mass),
        Column("slope"),
        Column("recov-\nered", "%"),
        Column("leached", "%"),
    ]


def _response_cells(shown: Shown, r: Response, system: units.System, *more: str) -> list[str]:
    """Print a response, a cell for each of `_gained_columns`."""
    mean = float(np.mean(r.gained)) if r.gained else float("nan")
    return [
        wording.dates_in(r.sow),
        *more,
        number(r.means[0], "biomass", system),
        number(mean, "biomass", system, sign=True),
        *range_cells(r.brings(shown.errors.response), "biomass", system),
        plain_number(r.slope),
        plain_number(100 * r.share("shoots")),
        plain_number(100 * r.share("leached")),
    ]


def _biomass(shown: Shown, system: units.System) -> str:
    mass = units.label("biomass", system)
    rates = [number(rate, "nitrogen", system) for rate in shown.first.rates]
    laid = []
    for timing in shown.timings:
        rows = [
            [wording.dates_in(r.sow), *(number(mean, "biomass", system) for mean in r.means)]
            for r in shown.of(timing=timing, kind=ALL)
        ]
        columns = [Column("sown", left=True), *(Column(f"N {rate}") for rate in rates)]
        laid.append(
            f"Biomass ({mass}, mean over falls) by nitrogen ({mass}), "
            f"{wording.timing(timing)}:\n\n{table(columns, rows)}"
        )
    return "\n\n".join(laid)


def _flat_from(curve: Curve, system: units.System) -> str:
    if not isfinite(curve.join):
        return NOTHING
    return (">" if curve.beyond else "") + number(
        curve.highest if curve.beyond else curve.join, "nitrogen", system
    )


def _curves(shown: Shown, system: units.System) -> str:
    rate = spoken_rate(shown.plans)
    columns = [
        Column("nitrogen", left=True),
        Column("sown", left=True),
        Column("curve", left=True),
        Column("weight", "%"),
        Column("slope\nat first"),
        Column(f"slope\nat {number(rate, 'nitrogen', system)}"),
        Column("flat\nfrom", units.label("nitrogen", system)),
    ]
    rows = []
    for timing in shown.timings:
        for i, r in enumerate(shown.of(timing=timing, kind=ALL)):
            curve = r.choice.curve
            start = [_timing_in_lines(timing) if not i else "", wording.dates_in(r.sow)]
            if curve is None:
                rows.append([*start, "too few rates", *[NOTHING] * 4])
                continue
            rows.append(
                [
                    *start,
                    curve.form,
                    plain_number(100 * r.choice.weights[curve.form]),
                    plain_number(curve.slope_at(curve.lowest)),
                    plain_number(curve.slope_at(rate)),
                    _flat_from(curve, system),
                ]
            )
    return f"The curves, over all falls:\n\n{table(columns, rows)}"


def _fates(shown: Shown, system: units.System) -> str:
    """Print where nitrogen ended, a table for each time it goes on."""
    columns = [
        Column("sown", left=True),
        *(Column(title, "%") for title in FATE_TITLES.values()),
        Column("all", "%"),
    ]
    spoken = _rate(spoken_rate(shown.plans), system)
    laid = []
    for timing in shown.timings:
        rows = []
        for r in shown.of(timing=timing, kind=ALL):
            percents = whole_percents([r.share(fate) for fate in FATES])
            texts = [*map(str, percents), str(sum(percents))] if percents else []
            rows.append([wording.dates_in(r.sow), *(texts or [NOTHING] * (len(FATES) + 1))])
        laid.append(
            f"Where {spoken} of nitrogen ended, given {wording.timing(timing)}:\n\n"
            f"{table(columns, rows)}"
        )
    return "\n\n".join(laid)


def _kinds(shown: Shown, system: units.System) -> str:
    """Print what nitrogen brings in each kind of year, a table for each time it goes on."""
    spoken = _rate(spoken_rate(shown.plans), system)
    columns = _gained_columns(shown, system, Column("kind", left=True), Column("falls"))
    laid = []
    for timing in shown.timings:
        rows = [
            _response_cells(shown, r, system, r.kind, str(r.falls))
            for r in shown.of(timing=timing)
            if r.kind != ALL
        ]
        laid.append(
            f"By kind of year ({shown.kinds_by}), {spoken} of nitrogen "
            f"{wording.timing(timing)}:\n\n{table(columns, rows)}"
        )
    return "\n\n".join(laid)


def _pairs(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("biomass", system)
    base = number(shown.pairs[0].base, "nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("with N", nitrogen),
        Column("equals", left=True),
        Column("with N", nitrogen),
        Column("biomass", mass),
        Column("at least as\nmuch in falls"),
        Column("chance\nof that", "%"),
    ]
    rows = [
        [
            wording.dates_in(p.later),
            number(p.rate, "nitrogen", system) if isfinite(p.rate) else "no rate tried",
            wording.dates_in(p.earlier),
            base,
            number(p.target, "biomass", system),
            f"{p.reached} of {p.falls}",
            plain_number(100 * p.chance),
        ]
        for p in shown.pairs
    ]
    when = wording.timing(shown.timings[0])
    return (
        f"Pairs that come out equal on average, nitrogen {when}; the chance is of weather and "
        f"field:\n\n{table(columns, rows)}"
    )


def _years(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("biomass", system)
    spoken = number(spoken_rate(shown.plans), "nitrogen", system)
    years, kinds = (shown.plans[name].values.tolist() for name in ("year", "kind_of_year"))
    kind_of = dict(zip(years, kinds, strict=True))
    columns = [
        Column("fall"),
        Column("kind", left=True),
        Column("biomass\nwithout", mass),
        Column(f"gained\nby {spoken}", mass),
        Column("slope"),
        Column("recov-\nered", "%"),
        Column("leached", "%"),
        Column("curve", left=True),
        Column("flat\nfrom", nitrogen),
    ]
    rows = []
    for r in shown.yearly:
        if r.sow != shown.first.sow:
            continue
        curve = r.choice.curve
        gained = r.gained[0] if r.gained else float("nan")
        rows.append(
            [
                r.kind,
                kind_of[int(r.kind)],
                number(r.means[0], "biomass", system),
                number(gained, "biomass", system, sign=True),
                plain_number(r.slope),
                plain_number(100 * r.share("shoots")),
                plain_number(100 * r.share("leached")),
                NOTHING if curve is None else curve.form,
                NOTHING if curve is None else _flat_from(curve, system),
            ]
        )
    return (
        f"Year by year, sown on {wording.dates_in(shown.first.sow)}, nitrogen "
        f"{wording.timing(shown.first.timing)}:\n\n{table(columns, rows)}"
    )


def notes(shown: Shown, hit_rate: float | None) -> list[str]:
    """Say which sowings lack falls, and where a hit rate tells nothing."""
    falls = shown.plans.sizes["year"]
    short = [
        f"{r.falls} of {falls} falls sown on {wording.dates_in(r.sow)}"
        for r in shown.of(timing=shown.timings[0], kind=ALL)
        if r.falls < falls
    ]
    texts = (
        [
            f"Only {wording.join(short)} reached the end at every rate and timing; the others "
            "count "
            "nowhere."
        ]
        if short
        else []
    )
    if hit_rate is not None and shown.value is None:
        texts.append(
            "The hit rate tells nothing without two times of nitrogen and two kinds of year."
        )
    return texts
