"""How the response to nitrogen looks: tables, sentences and a chart, all from the same numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.nitrogen_response import (
    ALL,
    FATES,
    ForecastValue,
    Pair,
    Response,
    spoken_rate,
)
from simulator.advice.response_curves import FEWEST, LINEAR, NONE, QUADRATIC_PLATEAU, Curve
from simulator.show.charts import COLOURS, SHAPES, axis_title, finish
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

WORTH_SAYING = 50.0  # kg/ha of biomass; smaller differences are none
FATE_TITLES = {
    "shoots": "shoots", "roots": "roots", "frost_killed": "frost-\nkilled", "leached": "leached",
    "denitrified": "denitri-\nfied", "volatilised": "ammonia", "left_in_soil": "left in\nsoil",
    "tied_up": "tied\nup",
}  # fmt: skip
FATE_WORDS = {
    "shoots": "in the shoots", "roots": "in the roots", "frost_killed": "in what frost killed",
    "leached": "leached", "denitrified": "denitrified", "volatilised": "lost as ammonia",
    "left_in_soil": "left in the soil", "tied_up": "tied up by what rots",
}  # fmt: skip


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
    def first(self) -> Response:
        """The first sowing and timing over all falls."""
        return self.responses[0]

    def of(self, **wanted: str) -> list[Response]:
        """Responses of a sowing, timing or kind."""
        return [
            r for r in self.responses
            if all(getattr(r, name) == value for name, value in wanted.items())
        ]  # fmt: skip


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
    laid = [_biomass(shown, system), _curves(shown, system), _fates(shown, system)]
    if len({r.kind for r in shown.responses}) > 1:
        laid.append(_kinds(shown, system))
    if shown.pairs:
        laid.append(_pairs(shown, system))
    if len(shown.yearly) > 1:
        laid.append(_years(shown, system))
    meaning = spread_meaning(shown.first.falls)
    return [*laid, paragraph(
        f"{meaning} Gained is biomass more than at the lowest rate; a slope is biomass for each "
        "unit of nitrogen by weight. A curve is fitted to the means at the rates tried and chosen "
        "by AICc; how far falls differ is in the brackets, not in the curve.".strip()
    )]  # fmt: skip


def _mass(value: float, system: units.System) -> str:
    return units.spell(value, "mass", system)


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
        laid.append(f"Biomass ({mass}, mean over falls) by nitrogen ({mass}), "
                    f"{wording.timing(timing)}:\n\n{table(columns, rows)}")  # fmt: skip
    return "\n\n".join(laid)


def _flat_from(curve: Curve, system: units.System) -> str:
    if not isfinite(curve.join):
        return NOTHING
    return (">" if curve.beyond else "") + number(
        curve.highest if curve.beyond else curve.join, "nitrogen", system
    )


def _curves(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("mass", system)
    rate = spoken_rate(shown.part)
    spoken = number(rate, "nitrogen", system)
    columns = [
        Column("nitrogen", left=True), Column("sown", left=True), Column("curve", left=True),
        Column("weight", "%"), Column("slope\nat first"), Column(f"slope\nat {spoken}"),
        Column("flat\nfrom", nitrogen), Column(f"gained by {spoken}", mass),
    ]  # fmt: skip
    rows = []
    for r in shown.of(kind=ALL):
        gained = over_falls(np.array(r.gained), "mass", system, sign=True)
        curve = r.choice.curve
        start = [wording.dates_in(r.timing), wording.dates_in(r.sow)]
        if curve is None:
            rows.append([*start, "too few rates", *[NOTHING] * 4, gained])
            continue
        rows.append([*start, curve.form, plain_number(100 * r.choice.weights[curve.form]),
                     plain_number(curve.slope_at(curve.lowest), 1),
                     plain_number(curve.slope_at(rate), 1), _flat_from(curve, system),
                     gained])  # fmt: skip
    return f"The curves, over all falls:\n\n{table(columns, rows)}"


def _fates(shown: Shown, system: units.System) -> str:
    rate = spoken_rate(shown.part)
    columns = [Column("nitrogen", left=True), Column("sown", left=True),
               *(Column(title, "%") for title in FATE_TITLES.values()), Column("all", "%")]  # fmt: skip
    rows = []
    for r in shown.of(kind=ALL):
        percents = whole_percents([r.share(fate) for fate in FATES])
        told = [*map(str, percents), str(sum(percents))] if percents else [NOTHING] * len(columns)
        rows.append([wording.dates_in(r.timing), wording.dates_in(r.sow), *told[: len(FATES) + 1]])
    return f"Where {_rate(rate, system)} of nitrogen ended:\n\n{table(columns, rows)}"


def _kinds(shown: Shown, system: units.System) -> str:
    mass = units.label("mass", system)
    spoken = number(spoken_rate(shown.part), "nitrogen", system)
    timings = shown.timings
    columns = [Column("sown", left=True), Column("kind", left=True), Column("falls"),
               Column("biomass\nwithout", mass),
               *(Column(f"{_broken(t)}\ngained", mass) for t in timings),
               *([Column("slope"), Column("recov-\nered", "%")] if len(timings) < 3 else []),
               Column("leached", "%")]  # fmt: skip
    rows = []
    for r in shown.of(timing=timings[0]):
        beside = [shown.of(sow=r.sow, kind=r.kind, timing=t)[0] for t in timings]
        gained = [over_falls(np.array(b.gained), "mass", system, sign=True) for b in beside]
        more = [plain_number(r.slope, 1), plain_number(100 * r.share("shoots"))]
        rows.append([wording.dates_in(r.sow), r.kind, str(r.falls),
                     number(r.means[0], "mass", system), *gained,
                     *(more if len(timings) < 3 else []),
                     plain_number(100 * r.share("leached"))])  # fmt: skip
    return (f"By kind of year ({shown.kinds_by}), {spoken} {mass} of nitrogen; leached "
            f"{wording.timing(timings[0])}:\n\n{table(columns, rows)}")  # fmt: skip


def _broken(timing: str) -> str:
    """Spell a timing as a narrow column has it."""
    return wording.timing(timing).replace(" and ", "\nand ")


def _pairs(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("mass", system)
    base = number(shown.pairs[0].base, "nitrogen", system)
    columns = [Column("sown", left=True), Column("with N", nitrogen), Column("equals", left=True),
               Column("with N", nitrogen), Column("biomass", mass),
               Column("at least as\nmuch in falls")]  # fmt: skip
    rows = [
        [wording.dates_in(p.later),
         number(p.rate, "nitrogen", system) if isfinite(p.rate) else "no rate tried",
         wording.dates_in(p.earlier), base, number(p.target, "mass", system),
         f"{p.reached} of {p.falls}"]
        for p in shown.pairs
    ]  # fmt: skip
    return f"Pairs that come out equal on average, nitrogen {wording.timing(shown.timings[0])}:\n\n{table(columns, rows)}"  # noqa: E501


def _years(shown: Shown, system: units.System) -> str:
    nitrogen, mass = units.label("nitrogen", system), units.label("mass", system)
    spoken = number(spoken_rate(shown.part), "nitrogen", system)
    kind_of = {
        year: kind for year, kind in zip(shown.part["year"].values.tolist(),
                                         shown.part["kind_of_year"].values.tolist(), strict=True)
    }  # fmt: skip
    columns = [Column("fall"), Column("kind", left=True), Column("biomass\nwithout", mass),
               Column(f"gained\nby {spoken}", mass), Column("slope"), Column("recov-\nered", "%"),
               Column("leached", "%"), Column("curve", left=True), Column("flat\nfrom", nitrogen)]  # fmt: skip
    rows = []
    for r in shown.yearly:
        if r.sow != shown.first.sow:
            continue
        curve = r.choice.curve
        gained = r.gained[0] if r.gained else float("nan")
        rows.append([r.kind, kind_of[int(r.kind)], number(r.means[0], "mass", system),
                     number(gained, "mass", system, sign=True), plain_number(r.slope, 1),
                     plain_number(100 * r.share("shoots")), plain_number(100 * r.share("leached")),
                     NOTHING if curve is None else curve.form,
                     NOTHING if curve is None else _flat_from(curve, system)])  # fmt: skip
    return (f"Year by year, sown on {wording.dates_in(shown.first.sow)}, nitrogen "
            f"{wording.timing(shown.first.timing)}:\n\n{table(columns, rows)}")  # fmt: skip


def sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what the numbers mean."""
    if not shown.first.falls:
        return [f"Sown on {wording.dates_in(shown.first.sow)}, no fall brought the stand to its end "
                "at every rate and timing, so there is no response to tell."]  # fmt: skip
    told = [_curve_sentence(shown.first, system), _rivals(shown.first)]
    if shown.first.applied > 0:
        told += [_fate_sentence(shown.first, system), _kind_sentence(shown, system)]
        told += (
            [_pair_sentence(shown.pairs[len(_first_sown(shown)) - 1], system)]
            if shown.pairs
            else []
        )  # noqa: E501
        told += [_timing_sentence(shown, system), *_forecast_sentences(shown, system)]
    return [sentence for sentence in told if sentence]


def _first_sown(shown: Shown) -> list[Pair]:
    """Return the pairs of the earliest sowing; the last of them is with the latest."""
    return [pair for pair in shown.pairs if pair.earlier == shown.pairs[0].earlier]


def _curve_sentence(r: Response, system: units.System) -> str:
    """Say how biomass rises with nitrogen, and in what form."""
    start = (f"Sown on {wording.dates_in(r.sow)}, nitrogen {wording.timing(r.timing)}: biomass is "
             f"{_mass(r.means[0], system)} with {_rate(r.rates[0], system)} of nitrogen")  # fmt: skip
    if len(r.rates) > 1:
        start += f" and {_mass(r.means[-1], system)} with {_rate(r.rates[-1], system)}"
    curve = r.choice.curve
    if curve is None:
        return (f"{start}; {len(r.rates)} rate{'s' if len(r.rates) > 1 else ''} are too few for a "
                f"curve, which takes {FEWEST[NONE]} at least.")  # fmt: skip
    if curve.form == NONE:
        return f"{start}; it does not follow the rate (no curve is better than their mean)."
    if curve.form == LINEAR:
        return (f"{start}, in a straight line: each pound of nitrogen {_brings(curve.slope)}, and "
                "no rate tried is too much.").replace("pound", _unit_word(system))  # fmt: skip
    shape = "bending" if curve.form == QUADRATIC_PLATEAU else "straight"
    word = _unit_word(system)
    flat = (f"it is still rising at {_rate(curve.highest, system)}" if curve.beyond
            else f"from {_rate(curve.join, system)} on more brings nothing")  # fmt: skip
    last = ""
    if curve.form == QUADRATIC_PLATEAU:
        middle = curve.highest / 2
        last = f", the one after {_rate(middle, system)} brings {curve.slope_at(middle):.0f}"
    return (f"{start}; a {shape} line to a plateau fits best ({curve.form}): the first {word} of "
            f"nitrogen brings {curve.slope_at(curve.lowest):.0f}{last}, and {flat}.")  # fmt: skip


def _unit_word(system: units.System) -> str:
    return "pound" if system == "us" else "kilogram"


def _brings(slope: float) -> str:
    return f"{'brings' if slope >= 0 else 'costs'} {abs(slope):.1f} of biomass"


def _rivals(r: Response) -> str:
    if r.choice.untried and r.choice.curve is not None:
        return (f"{len(r.rates)} rates are too few to try {wording.join(r.choice.untried)}: give "
                f"{max(FEWEST[form] for form in r.choice.untried)}.")  # fmt: skip
    if not r.choice.rivals or r.choice.curve is None:
        return ""
    return (f"These {len(r.rates)} rates hardly tell {r.choice.curve.form} from "
            f"{wording.join(r.choice.rivals)}: do not lean on the form.")  # fmt: skip


def _fate_sentence(r: Response, system: units.System) -> str:
    """Say where the applied nitrogen is at the end."""
    percents = whole_percents([r.share(fate) for fate in FATES])
    where = sorted(zip(percents, FATES, strict=True), reverse=True)
    told = [f"{percent} percent {'are ' if not i else ''}{FATE_WORDS[fate]}"
            for i, (percent, fate) in enumerate(where) if percent > 0]  # fmt: skip
    return (f"Of {_rate(r.applied, system)} of it above {_rate(r.rates[0], system)}, at the end "
            f"{wording.join(told)}.")  # fmt: skip


def _kind_sentence(shown: Shown, system: units.System) -> str:
    """Say in which kind of year nitrogen brings most and least."""
    first = shown.first
    by_kind = [r for r in shown.of(sow=first.sow, timing=first.timing) if r.kind != ALL and r.falls]
    if len(by_kind) < 2:
        return ""
    ranked = sorted(by_kind, key=lambda r: -np.mean(r.gained))
    best, worst = ranked[0], ranked[-1]
    if np.mean(best.gained) - np.mean(worst.gained) < WORTH_SAYING:
        return "It brings about as much in every kind of year."

    def told(r: Response) -> str:
        return (f"{r.kind} years ({_mass(float(np.mean(r.gained)), system)}, "
                f"{100 * r.share('leached'):.0f} percent leached, {r.falls} falls)")  # fmt: skip

    return (f"{_rate(first.applied, system)} {wording.timing(first.timing)} bring most in "
            f"{told(best)} and least in {told(worst)}.")  # fmt: skip


def _pair_sentence(pair: Pair, system: units.System) -> str:
    """Say what rate makes the late sowing equal to the early one, or that none does."""
    late, early = (f"the {wording.dates_in(date)} sowing" for date in (pair.later, pair.earlier))
    base = "none" if pair.base == 0 else _rate(pair.base, system)
    if not isfinite(pair.rate):
        return (f"No rate tried brings {late} to what {early} makes with {base} "
                f"({_mass(pair.target, system)}): with {_rate(pair.most_rate, system)} it makes "
                f"{_mass(pair.most, system)}, and in {pair.reached} of {pair.falls} falls as much.")  # fmt: skip
    if pair.rate <= pair.base:
        return (f"{late.capitalize()} makes as much with {base} as {early} does "
                f"({_mass(pair.target, system)}), in {pair.reached} of {pair.falls} falls.")  # fmt: skip
    return (f"On average {late} with {_rate(pair.rate, system)} equals {early} with {base} "
            f"({_mass(pair.target, system)}); in {pair.reached} of {pair.falls} falls it makes at "
            "least as much.")  # fmt: skip


def _timing_sentence(shown: Shown, system: units.System) -> str:
    """Say which time brings most over all falls, and what it leaches."""
    beside = shown.of(sow=shown.first.sow, kind=ALL)
    if len(beside) < 2:
        return ""
    ranked = sorted(beside, key=lambda r: -np.mean(r.gained))
    told = [
        f"{wording.timing(r.timing)} ({_mass(float(np.mean(r.gained)), system)}, "
        f"{100 * r.share('leached'):.0f} percent leached)"
        for r in (ranked[0], ranked[-1])
    ]
    if np.mean(ranked[0].gained) - np.mean(ranked[-1].gained) < WORTH_SAYING:
        return f"When it goes on makes little difference to biomass: {told[0]} or {told[1]}."
    return (f"The same rate brings the {wording.dates_in(shown.first.sow)} sowing most given "
            f"{told[0]} and least given {told[1]}.")  # fmt: skip


def _forecast_sentences(shown: Shown, system: units.System) -> list[str]:
    """Say what a forecast of the kind of year is worth to the choice of the time."""
    value = shown.value
    if value is None:
        return []
    when = [wording.timing(timing) for timing in shown.timings]
    best = when[value.single]
    other = {kind: at for kind, at in value.by_kind.items() if at != value.single}
    perfect = f"choosing the best time of every single fall would bring {_mass(value.perfect, system)} more"  # noqa: E501
    if not other:
        return [f"One time, {best}, is best in every kind of year, so that a forecast of the kind "
                f"is worth nothing here; {perfect}."]  # fmt: skip
    switched = wording.join([f"{when[at]} in {kind} years" for kind, at in other.items()])
    told = [
        f"Over all falls {best} is best, but {switched}: to know the kind of year beforehand is "
        f"worth {_mass(value.known_kind, system)} of biomass a fall (judged on falls left out of "
        f"the choice {_signed(value.left_out, system)}); {perfect}."
    ]
    if value.hit_rate is not None:
        told.append(f"A forecast that names the right kind in {100 * value.hit_rate:.0f} of 100 "
                    f"falls is worth {_mass(value.with_hit_rate, system)}.")  # fmt: skip
    return told


def _signed(value: float, system: units.System) -> str:
    return ("-" if value < 0 else "+") + _mass(abs(value), system)


def as_json(shown: Shown) -> dict[str, Any]:
    """Return what the JSON object carries beside its rows, in SI."""
    value = shown.value
    return {
        "curves": [_curve_json(r) for r in [*shown.responses, *shown.yearly]],
        "pairs": [
            {name: _plain(getattr(pair, name)) for name in Pair.__slots__} for pair in shown.pairs
        ],
        "forecast": None if value is None else {
            "sow": shown.first.sow,
            "single": shown.timings[value.single],
            "by_kind": {kind: shown.timings[at] for kind, at in value.by_kind.items()},
            **{f"{name}_kg_ha": _plain(getattr(value, name))
               for name in ("known_kind", "left_out", "perfect", "with_hit_rate")},
            "hit_rate": value.hit_rate,
        },
    }  # fmt: skip


def _plain(value: Any) -> Any:
    return None if isinstance(value, float) and not isfinite(value) else value


def _curve_json(r: Response) -> dict[str, Any]:
    curve = r.choice.curve
    fitted = {} if curve is None else {
        "base_kg_ha": curve.base, "slope_kg_kg": curve.slope, "flat_from_kg_ha": _plain(curve.join),
        "beyond_the_rates": bool(curve.beyond),
    }  # fmt: skip
    return {
        "sow": r.sow, "nitrogen_timing": r.timing, "kind": r.kind, "falls": r.falls,
        "form": None if curve is None else curve.form, **fitted, "weights": r.choice.weights,
        "means_kg_ha": [_plain(mean) for mean in r.means], "applied_kg_ha": _plain(r.applied),
        "mean_slope_kg_kg": _plain(r.slope),
        "shares": {fate: _plain(r.share(fate)) for fate in FATES},
    }  # fmt: skip


def headline(shown: Shown, system: units.System) -> tuple[list[str], list[str]]:
    """Return the title of the chart and the lines below it."""
    about = shown.part.attrs
    invented = ", an invented place" if about.get("invented") == "yes" else ""
    title = (f"Each {_unit_word(system)} of nitrogen up to {_rate(spoken_rate(shown.part), system)} "
             f"brings {shown.first.slope:.0f} of biomass, sown {wording.dates_in(shown.first.sow)}")  # fmt: skip
    below = (f"{str(about['cereal']).capitalize()} on {about['soil']} at {about['site']}{invented}; "
             f"means over {shown.first.falls} falls, bars hold 8 of 10")  # fmt: skip
    return [title], [below]


def chart(shown: Shown, system: units.System) -> Any:
    """Draw biomass against nitrogen by sowing, gains by timing and kind, and where N ended."""
    import altair as alt

    lines = alt.hconcat(_response_panel(shown, system), _timing_panel(shown, system), spacing=42)
    return finish(alt.vconcat(lines, _fate_panel(shown), spacing=30).resolve_scale(
        color="independent"), *headline(shown, system))  # fmt: skip


def _data(rows: list[dict[str, Any]]) -> Any:
    import altair as alt

    return alt.InlineData(values=rows)


def _response_panel(shown: Shown, system: units.System) -> Any:
    import altair as alt

    def mass(value: float) -> float:
        return float(units.show(value, "mass", system))

    points, lines = [], []
    shown_now = shown.of(timing=shown.timings[0], kind=ALL)
    sowings = [wording.dates_in(r.sow) for r in shown_now]
    for r, sown in zip(shown_now, sowings, strict=True):
        if not r.falls:
            continue
        falls = shown.part["biomass_kg_ha"].sel(sow=r.sow, nitrogen_timing=r.timing).values
        low, high = np.nanpercentile(falls, [10, 90], axis=0)
        points += [{"sown": sown, "nitrogen": mass(x), "biomass": mass(y), "low": mass(lo),
                    "high": mass(hi)}
                   for x, y, lo, hi in zip(r.rates, r.means, low, high, strict=True)]  # fmt: skip
        if r.choice.curve is not None:
            lines += [{"sown": sown, "nitrogen": mass(x), "biomass": mass(r.choice.curve.at(x))}
                      for x in np.linspace(r.rates[0], r.rates[-1], 60).tolist()]  # fmt: skip
    colour = alt.Color("sown:N", title="sown", sort=sowings, scale=alt.Scale(
        domain=sowings, range=[COLOURS[i % len(COLOURS)] for i in range(len(sowings))]))  # fmt: skip
    shape = alt.Shape("sown:N", title="sown", sort=sowings, scale=alt.Scale(
        domain=sowings, range=[SHAPES[i % len(SHAPES)] for i in range(len(sowings))]))  # fmt: skip
    x = alt.X("nitrogen:Q", title=axis_title(
        f"nitrogen {wording.timing(shown.timings[0])}", "nitrogen", system))  # fmt: skip
    y = alt.Y("biomass:Q", title=axis_title("biomass", "mass", system), scale=alt.Scale(zero=True))
    base = alt.Chart(_data(points), width=340, height=300)
    curve = alt.Chart(_data(lines)).mark_line(strokeWidth=2).encode(x=x, y=y, color=colour)
    bars = base.mark_rule(opacity=0.3).encode(x=x, y=alt.Y("low:Q"), y2="high:Q", color=colour)
    dots = base.mark_point(filled=True, size=60, opacity=0.95).encode(
        x=x, y=y, color=colour, shape=shape)  # fmt: skip
    return alt.layer(bars, curve, dots)


def _timing_panel(shown: Shown, system: units.System) -> Any:
    import altair as alt

    rows = [
        {"kind": r.kind, "timing": wording.timing(r.timing),
         "gained": float(units.show(float(np.mean(r.gained)), "mass", system))}
        for r in shown.of(sow=shown.first.sow) if r.falls
    ]  # fmt: skip
    when = [wording.timing(timing) for timing in shown.timings]
    kinds = list(dict.fromkeys(row["kind"] for row in rows))
    title = axis_title(f"gained, sown {wording.dates_in(shown.first.sow)}", "mass", system)
    return alt.Chart(_data(rows), width=300, height=300).mark_bar().encode(
        x=alt.X("kind:N", title="kind of year", sort=kinds, axis=alt.Axis(labelAngle=0)),
        xOffset=alt.XOffset("timing:N", sort=when),
        y=alt.Y("gained:Q", title=title),
        color=alt.Color("timing:N", title="nitrogen", sort=when, scale=alt.Scale(
            domain=when, range=[COLOURS[i % len(COLOURS)] for i in range(len(when))]),
            legend=alt.Legend(columns=1)),
    )  # fmt: skip


def _fate_panel(shown: Shown) -> Any:
    import altair as alt

    words = {fate: title.replace("-\n", "").replace("\n", " ")
             for fate, title in FATE_TITLES.items()}  # fmt: skip
    rows = [
        {"plan": f"{wording.dates_in(r.sow)}, {wording.timing(r.timing)}", "where": words[fate],
         "percent": 100 * r.share(fate), "order": place}
        for r in shown.of(kind=ALL) if r.falls and r.applied
        for place, fate in enumerate(FATES)
    ]  # fmt: skip
    colours = ["#5fa59b", "#12355b", "#dfe2e5", "#d8671c", "#e2b33b", "#f0d9b5", "#5b5b5b",
               "#8a2b5c"]  # fmt: skip
    order = list(dict.fromkeys(row["plan"] for row in rows))
    return alt.Chart(_data(rows), width=560, height={"step": 19}).mark_bar().encode(
        y=alt.Y("plan:N", title=None, sort=order, axis=alt.Axis(labelLimit=260)),
        x=alt.X("percent:Q", title="where the applied nitrogen ended (%)", stack="zero"),
        order=alt.Order("order:O"),
        color=alt.Color("where:N", title=None, sort=list(words.values()), scale=alt.Scale(
            domain=list(words.values()), range=colours), legend=alt.Legend(columns=8)),
    )  # fmt: skip
