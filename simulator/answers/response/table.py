"""How the response to nitrogen looks: tables, sentences and a chart, all from the same numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, isfinite
from typing import TYPE_CHECKING

import numpy as np

from simulator import units
from simulator.answers.response.calculate import ALL, FATES, Response, spoken_rate
from simulator.answers.response.forecast import ForecastValue
from simulator.answers.response.pairs import Pair
from simulator.answers.shared.response_curves import Curve
from simulator.show import wording
from simulator.show.tables import (
    NOTHING,
    Column,
    number,
    over_falls,
    paragraph,
    plain_number,
    spread_meaning,
    table,
)

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
    part : Dataset
        From `one_plan`.
    responses, yearly : list of Response
        By kind of year; by year, for the first timing.
    pairs : list of Pair
        For the first timing.
    value : ForecastValue or None
        For the first sowing.
    kinds_by : str
        How the years were sorted.
    """

    part: xr.Dataset
    responses: list[Response]
    yearly: list[Response]
    pairs: list[Pair]
    value: ForecastValue | None
    kinds_by: str

    @property
    def timings(self) -> list[str]:
        """When the nitrogen goes on."""
        return [str(value) for value in self.part["nitrogen_timing"].values]

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
    """Print biomass by rate, curves, kinds of year, where nitrogen went, pairs, timings, years."""
    laid = [
        _biomass(shown, system),
        _curves(shown, system),
        _fates(shown, system),
        _kinds(shown, system),
    ]
    if shown.pairs:
        laid.append(_pairs(shown, system))
    if len(shown.yearly) > 1:
        laid.append(_years(shown, system))
    meaning = spread_meaning(shown.first.falls)
    return [
        *laid,
        paragraph(
            f"{meaning} Gained is biomass more than at the lowest rate; a slope is biomass for "
            "each "
            "unit of nitrogen by weight. A curve is fitted to the means at the rates tried and "
            "chosen "
            "by AICc; how far falls differ is in the brackets, not in the curve.".strip()
        ),
    ]


def _rate(value: float, system: units.System) -> str:
    return units.spell(value, "nitrogen", system)


def _biomass(shown: Shown, system: units.System) -> str:
    mass = units.label("mass", system)
    rates = [number(rate, "nitrogen", system) for rate in shown.first.rates]
    laid = []
    for timing in shown.timings:
        rows = [
            [wording.dates_in(r.sow), *(number(mean, "mass", system) for mean in r.means)]
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
    rate = spoken_rate(shown.part)
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
    for r in shown.of(kind=ALL):
        curve = r.choice.curve
        start = [wording.dates_in(r.timing), wording.dates_in(r.sow)]
        if curve is None:
            rows.append([*start, "too few rates", *[NOTHING] * 4])
            continue
        rows.append(
            [
                *start,
                curve.form,
                plain_number(100 * r.choice.weights[curve.form]),
                plain_number(curve.slope_at(curve.lowest), 1),
                plain_number(curve.slope_at(rate), 1),
                _flat_from(curve, system),
            ]
        )
    return f"The curves, over all falls:\n\n{table(columns, rows)}"


def _fates(shown: Shown, system: units.System) -> str:
    rate = spoken_rate(shown.part)
    columns = [
        Column("nitrogen", left=True),
        Column("sown", left=True),
        *(Column(title, "%") for title in FATE_TITLES.values()),
        Column("all", "%"),
    ]
    rows = []
    for r in shown.of(kind=ALL):
        percents = whole_percents([r.share(fate) for fate in FATES])
        texts = [*map(str, percents), str(sum(percents))] if percents else [NOTHING] * len(columns)
        rows.append([wording.dates_in(r.timing), wording.dates_in(r.sow), *texts[: len(FATES) + 1]])
    return f"Where {_rate(rate, system)} of nitrogen ended:\n\n{table(columns, rows)}"


def _kinds(shown: Shown, system: units.System) -> str:
    mass = units.label("mass", system)
    spoken = number(spoken_rate(shown.part), "nitrogen", system)
    timings = shown.timings
    columns = [
        Column("sown", left=True),
        Column("kind", left=True),
        Column("falls"),
        Column("biomass\nwithout", mass),
        *(Column(f"{_broken(t)}\ngained", mass) for t in timings),
        *([Column("slope"), Column("recov-\nered", "%")] if len(timings) < 3 else []),
        Column("leached", "%"),
    ]
    rows = []
    for r in shown.of(timing=timings[0]):
        beside = [shown.of(sow=r.sow, kind=r.kind, timing=t)[0] for t in timings]
        gained = [over_falls(np.array(b.gained), "mass", system, sign=True) for b in beside]
        more = [plain_number(r.slope, 1), plain_number(100 * r.share("shoots"))]
        rows.append(
            [
                wording.dates_in(r.sow),
                r.kind,
                str(r.falls),
                number(r.means[0], "mass", system),
                *gained,
                *(more if len(timings) < 3 else []),
                plain_number(100 * r.share("leached")),
            ]
        )
    sorted_by = f"By kind of year ({shown.kinds_by})" if shown.has_kinds else "Over all falls"
    return (
        f"{sorted_by}, {spoken} {mass} of nitrogen; leached {wording.timing(timings[0])}:"
        f"\n\n{table(columns, rows)}"
    )


def _broken(timing: str) -> str:
    """Spell a timing as a narrow column has it."""
    return wording.timing(timing).replace(" and ", "\nand ")


def _pairs(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("mass", system)
    base = number(shown.pairs[0].base, "nitrogen", system)
    columns = [
        Column("sown", left=True),
        Column("with N", nitrogen),
        Column("equals", left=True),
        Column("with N", nitrogen),
        Column("biomass", mass),
        Column("at least as\nmuch in falls"),
    ]
    rows = [
        [
            wording.dates_in(p.later),
            number(p.rate, "nitrogen", system) if isfinite(p.rate) else "no rate tried",
            wording.dates_in(p.earlier),
            base,
            number(p.target, "mass", system),
            f"{p.reached} of {p.falls}",
        ]
        for p in shown.pairs
    ]
    return f"Pairs that come out equal on average, nitrogen {wording.timing(shown.timings[0])}:\n\n{table(columns, rows)}"  # noqa: E501


def _years(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("mass", system)
    spoken = number(spoken_rate(shown.part), "nitrogen", system)
    years, kinds = (shown.part[name].values.tolist() for name in ("year", "kind_of_year"))
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
                number(r.means[0], "mass", system),
                number(gained, "mass", system, sign=True),
                plain_number(r.slope, 1),
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
    falls = shown.part.sizes["year"]
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
