"""Words that answers share: dates, timings and lists as a sentence has them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from simulator import units

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MONTH_DAY = re.compile(r"\b(\d{2})-(\d{2})\b")


def dates_in(text: str) -> str:
    """Spell the dates in a text: ``"sowing 1/3 + 02-15 2/3"`` has ``"Feb 15"`` then."""
    return _MONTH_DAY.sub(lambda m: f"{_MONTHS[int(m[1]) - 1]} {int(m[2])}", text)


def day_in(when: Any) -> str:
    """Spell a day with its year: ``"Apr 15, 2010"`` of whatever numpy takes as 2010-04-15."""
    year, _, date = str(when)[:10].partition("-")
    return f"{dates_in(date)}, {year}"


def stand(about: Mapping[str, Any]) -> str:
    """Name a cereal and its variety: ``"early rye"``, ``"rye of a variety 6 days early"``.

    Parameters
    ----------
    about : mapping
        Attributes of a grid or a season: ``cereal`` and, where it is no medium one, ``variety``.
    """
    cereal, variety = str(about["cereal"]), str(about.get("variety", "medium"))
    if variety == "medium":
        return cereal
    if "," in variety:
        return f"{cereal} of {join(variety.split(', '))} varieties"
    return f"{cereal} of a variety {variety}" if " " in variety else f"{variety} {cereal}"


def ending(end: str) -> str:
    """Say when a stand is ended: ``"on Apr 15"``, ``"at flowering (Zadoks 61)"``.

    Or ``"at Zadoks 33"`` for a stage without a name, ``"at 4000 lb/acre"`` for a biomass.
    """
    from simulator.season.plan import STAGES

    for name, stage in STAGES.items():
        if end == f"zadoks {stage}":
            return f"at {name} (Zadoks {stage})"
    if "/" in end or "zadoks" in end:
        return f"at {end.replace('zadoks', 'Zadoks')}"
    return f"on {dates_in(end)}"


def timing(text: str) -> str:
    """Say when nitrogen goes on: ``"at sowing"``, ``"1/3 at sowing and 2/3 on Feb 15"``."""
    parts = [part.split() for part in text.split("+")]
    when = ["at sowing" if part[0] == "sowing" else f"on {dates_in(part[0])}" for part in parts]
    if len(parts) == 1:
        return when[0]
    if all(len(part) == 1 for part in parts):
        return f"in equal parts {join(when)}"
    return join([f"{part[-1]} {on}" for part, on in zip(parts, when, strict=True)])


def join(items: Sequence[str]) -> str:
    """Join with commas and a last "and"."""
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def falls(years: Sequence[int]) -> str:
    """Name the falls: ``"30 falls, 1995 to 2024"``, ``"the fall of 2007"``."""
    if len(years) == 1:
        return f"the fall of {years[0]}"
    runs: list[list[int]] = []
    for year in years:
        if runs and year == runs[-1][-1] + 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    spans = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs]
    return f"{len(years)} falls, {join(spans)}"


def threshold(celsius: float, system: units.System) -> str:
    """Spell a threshold without rounding away what was asked: ``"40 °F"``, ``"4.44 °C"``."""
    shown = round(float(units.show(celsius, "temperature", system)), 2) + 0.0
    return f"{shown:g} {units.label('temperature', system)}"
