"""How ordinary a trial's years were, in sentences."""

from __future__ import annotations

import numpy as np

from simulator import units
from simulator.answers.plots.calculate import Found
from simulator.answers.plots.names import bare, mass
from simulator.answers.plots.ordinary import Blend, Ordinary, Ranked, spoken_value
from simulator.answers.shared.field_ranges import Ranges
from simulator.show import wording
from simulator.show.tables import span

USUAL = (0.1, 0.9)  # shares of falls between which a year is ordinary


def of_weather(found: Found, one: Ordinary, system: units.System) -> list[str]:
    """Say whether the years were ordinary, and what nitrogen would bring in the record's falls."""
    if not one.falls or not one.ranked:
        why = one.reason or "none of its years is in its weather"
        return [f"{one.site}: {why}."]
    texts = [_years(one, system)]
    if one.blend is not None:
        texts += _blend(one, one.blend, system)
    elif one.reason:
        texts.append(f"{one.site}: {one.reason}.")
    if one.sowing is not None:
        tried, everything = one.sowing
        texts.append(
            f"Simulated, the first sowing brought {bare(tried, system)} over the last in the tried "
            f"years, {mass(everything, system)} in all {len(one.falls)} falls"
            f"{_between_falls(one.sowing_range, system)}."
        )
    return texts


def _years(one: Ordinary, system: units.System) -> str:
    odd = [r for r in one.ranked if not USUAL[0] <= r.below <= USUAL[1]]
    count = len(one.falls)
    among = f"Of {count} falls at {one.site}, {one.falls[0]} to {one.falls[-1]}, "
    if not odd:
        return (
            f"{among}the years tried were ordinary: rain and thermal time from each sowing lay "
            f"between the lowest and the highest tenth ({_ranges(one.ranked, system)})."
        )
    said: dict[tuple[int, str, bool], list[Ranked]] = {}
    for r in odd:
        said.setdefault((r.year, r.name, r.below > 0.5), []).append(r)
    parts = []
    for (year, name, high), some in list(said.items())[:6]:
        word = {
            ("rain_mm", True): "wet",
            ("rain_mm", False): "dry",
            ("thermal_time_degC_d", True): "warm",
            ("thermal_time_degC_d", False): "cold",
        }[name, high]
        worst = max(some, key=lambda r: abs(r.below - 0.5))
        kind = "rain" if name == "rain_mm" else "thermal_time"
        parts.append(
            f"{year} was among the {word}est tenth ({spoken_value(worst, system)} from "
            f"{wording.dates_in(worst.sow)}, the usual {units.spell(worst.usual, kind, system)}, "
            f"8 of 10 falls {span(worst.between, kind, system)})"
        )
    rest = sorted({r.year for r in one.ranked} - {r.year for r in odd})
    plain = f"; {wording.join([str(year) for year in rest])} ordinary" if rest else ""
    return f"{among}{wording.join(parts)}{plain}.".replace("dryest", "driest").replace(
        "wetest", "wettest"
    )


def _ranges(ranked: list[Ranked], system: units.System) -> str:
    """Say what the years tried had from the first sowing, and in what 8 of 10 falls lie."""
    first = [r for r in ranked if r.sow == ranked[0].sow]
    parts = []
    for name, kind, said in (
        ("rain_mm", "rain", "of rain"),
        ("thermal_time_degC_d", "thermal_time", "of thermal time"),
    ):
        some = [r for r in first if r.name == name]
        if some:
            had = span((min(r.value for r in some), max(r.value for r in some)), kind, system)
            usual = span(some[0].between, kind, system)
            parts.append(f"{had} {units.label(kind, system)} {said}, 8 of 10 falls {usual}")
    return f"from {wording.dates_in(first[0].sow)} {'; '.join(parts)}"


def _between_falls(ranges: Ranges | None, system: units.System) -> str:
    if ranges is None:
        return ""
    low, high = bare(ranges.weather_low, system), mass(ranges.weather_high, system)
    return (
        f" ({low} to {high} in 8 of 10, {bare(ranges.low, system)} to {mass(ranges.high, system)} "
        "in a field like these)"
    )


def _blend(one: Ordinary, blend: Blend, system: units.System) -> list[str]:
    high, low = (units.spell(rate, "mass", system) for rate in (blend.high_rate, blend.low_rate))
    few = f"{blend.tried} year{'' if blend.tried == 1 else 's'}"
    spread = ""
    if np.isfinite(blend.measured_error):
        spread = f" (standard error {bare(blend.measured_error, system)})"
    first = (
        f"At {one.site} {high} of nitrogen brought {mass(blend.measured, system)} over {low} in "
        f"{few}{spread}; in falls like the record's it would bring {bare(blend.expected, system)} "
        f"(95 percent interval {bare(blend.low, system)} to {mass(blend.high, system)})."
    )
    moved = f"{bare(blend.simulated_tried, system)} to {mass(blend.simulated_all, system)}"
    second = (
        f"It is {100 * blend.share:.0f} percent the measured, moved from those years to all "
        f"{blend.falls} falls as the simulation moves ({moved}), and "
        f"{100 * (1 - blend.share):.0f} percent the simulated; the model's error elsewhere sets "
        "the shares."
    )
    return [first, second]
