"""The view of a month's rain: its sentences, what it draws, its routes."""

from __future__ import annotations

from typing import Any

import numpy as np

from simulator import units
from simulator.answers.shared.field_ranges import (
    biomass_ranges,
    difference_off,
    difference_ranges,
    how_far_off,
    in_a_field,
    spelled,
)
from simulator.page.downloads import command_of
from simulator.page.rows import nice
from simulator.page.views.plan_link import PlanView, shared_payload
from simulator.page.views.rain import (
    OFFERED,
    OWN,
    Curve,
    Halved,
    ends_within,
    find,
    halved,
    step_rows,
)
from simulator.show import wording
from simulator.show.charts import ranged
from simulator.show.csv_table import table_text

ALIKE = 20.0  # kg/ha of biomass that is no difference


def sentences(curve: Curve) -> list[str]:
    """Say what the plan makes at the usual rain, what other rain does, and where it halves."""
    system = curve.asked.system
    texts = [
        _usual_rain_sentence(curve),
        _most_and_least(curve),
        *_half_response_sentences(curve),
        _leached(curve),
    ]
    texts += [how_far_off(system), difference_off(system)]
    return [text for text in texts if text]


def _rain(curve: Curve, value: float) -> str:
    amount = units.spell(value, "water", curve.asked.system)
    return f"{amount} of rain" if value > 0.0 else "no rain"


def _mass(curve: Curve, value: float) -> str:
    return units.spell(value, "biomass", curve.asked.system)


def _nitrogen_text(curve: Curve) -> str:
    plan = curve.asked.plan
    if plan.nitrogen_kg_ha <= 0.0:
        return "no nitrogen"
    fed = units.spell(plan.nitrogen_kg_ha, "nitrogen", curve.asked.system)
    return f"{fed} of nitrogen {wording.timing(plan.nitrogen_timing)}"


def _usual_rain_sentence(curve: Curve) -> str:
    plan, made = curve.asked.plan, curve.at_usual.biomass[0, :, -1]
    in_field = spelled(biomass_ranges(made), "biomass", curve.asked.system)
    return (
        f"{plan.cereal.capitalize()} sown on {wording.dates_in(plan.sow)} with "
        f"{_nitrogen_text(curve)} makes {_mass(curve, float(made.mean()))} "
        f"{wording.ending(plan.end)} with the usual {_rain(curve, curve.usual)} in {curve.month}, "
        f"the mean of {wording.falls(curve.grid.years)}; in a field like these {in_field}."
    )


def _most_and_least(curve: Curve) -> str:
    """Say at which rain it makes most and least, and how surely."""
    made = curve.grid.biomass[:, :, -1]
    means = made.mean(axis=1)
    best, worst = int(means.argmax()), int(means.argmin())
    reach = f"From no rain in {curve.month} to {_rain(curve, curve.most)}"
    if means[best] - means[worst] < ALIKE:
        return f"{reach} it makes about as much."
    ranges = difference_ranges(made[best] - made[worst])
    surely = in_a_field(ranges, curve.asked.system)
    at = [f"at {_rain(curve, float(curve.rain[one]))}" for one in (best, worst)]
    at = [text.replace("at no rain", "without rain") for text in at]
    return (
        f"{reach} it makes most, {_mass(curve, float(means[best]))}, {at[0]}, and least, "
        f"{_mass(curve, float(means[worst]))}, {at[1]}. {surely}"
    )


def _half_response_sentences(curve: Curve) -> list[str]:
    """Say where nitrogen brings half of what it brings at the usual rain; nothing without it."""
    if len(curve.grid.rates) < 2:
        return ["Without nitrogen there is no response to nitrogen: give a rate to see it."]
    usual = float(curve.response(curve.at_usual)[0].mean())
    found, ranges = halved(curve), curve.brings
    at = f"With the usual {_rain(curve, curve.usual)}, {_nitrogen_text(curve)}"
    if found is None:
        return [
            f"{at} brings hardly anything on the mean ({_mass(curve, usual)} more than none), so "
            "that there is nothing to halve."
        ]
    between = spelled(ranges, "biomass", curve.asked.system)
    surely = (
        f"In a field like these it brings {between}."
        if ranges.is_clear
        else "Whether it brings anything in a field like these, and so where that is halved, "
        f"cannot be told: it may be {between}."
    )
    brought = f"{at} brings {_mass(curve, usual)} more than none, the mean over the falls."
    return [f"{brought} {half_said(curve, found)} {surely}"]


def half_said(curve: Curve, found: Halved) -> str:
    """Say at which rain the mean response is half; that it never is within the curve."""
    places = [
        f"about {_rain(curve, one)}" if one > 0.0 else "no rain at all"
        for one in (found.less, found.more)
        if one is not None
    ]
    if not places:
        return f"Up to {_rain(curve, curve.most)} the mean is never half of that."
    if found.more is None:
        return (
            f"The mean is half of that at {places[0]} in {curve.month}; with more than the usual "
            f"rain, up to {units.spell(curve.most, 'water', curve.asked.system)}, never."
        )
    return f"The mean is half of that at {' and at '.join(places)} in {curve.month}."


def _leached(curve: Curve) -> str:
    system = curve.asked.system
    lost = [float(one[:, -1].mean()) for one in curve.grid.leached]
    usual = float(curve.at_usual.leached[0, :, -1].mean())
    amounts = [units.spell(value, "nitrogen", system) for value in (usual, lost[0], lost[-1])]
    return (
        f"With the usual rain {amounts[0]} of nitrate nitrogen leaches from September on; without "
        f"rain in {curve.month} {amounts[1]}, with {_rain(curve, curve.most)} {amounts[2]}."
    )


def notes(curve: Curve) -> list[str]:
    """Say what the record's own months had, what is left out, and how rain is put on."""
    known = curve.recorded[np.isfinite(curve.recorded)]
    low, high = (
        units.spell(float(end), "water", curve.asked.system) for end in (known.min(), known.max())
    )
    texts = [
        f"In the record {curve.month} had {low} to {high} of rain; the usual is the middle one of "
        f"{known.size}. Every fall's {curve.month} is given the same rain, its own wet days made "
        "wetter or drier; all other weather stays as it was."
    ]
    if ends_within(curve):
        texts.append(
            f"Rain after the stand is ended on {wording.dates_in(curve.asked.plan.end)} changes "
            "nothing."
        )
    if curve.grid.left_out:
        named = wording.join([text.split(":")[0] for text in curve.grid.left_out])
        texts.append(f"Left out, the weather not being whole: {named}.")
    return texts


def payload(curve: Curve, own: dict[str, str]) -> dict[str, Any]:
    """Return all that the view shows."""
    system, rows = curve.asked.system, step_rows(curve)
    first, *rest = sentences(curve)
    found = halved(curve)
    known = curve.recorded[np.isfinite(curve.recorded)]
    return {
        **shared_payload(curve.asked, curve.place, {**own, "most": own["most"] or curve.texts[-1]}),
        "first": first,
        "rest": rest,
        "notes": notes(curve),
        "months": OFFERED,
        "rows": [_shown(curve, row) for row in rows],
        "fed": len(curve.grid.rates) > 1,
        "usual": _number(curve.usual, "rain", system),
        "recorded": [_number(float(end), "rain", system) for end in (known.min(), known.max())],
        "half": []
        if found is None
        else [_number(one, "rain", system) for one in (found.less, found.more) if one is not None],
        "sure": found is not None and curve.brings.is_clear,
        "tops": {
            "rain": _number(curve.most, "rain", system),
            "biomass": nice(
                _number(max(row["biomass_high_kg_ha"] for row in rows), "biomass", system)
            ),
            "leached": nice(
                _number(max(row["weather_leached_high_kg_ha"] for row in rows), "nitrogen", system)
            ),
        },
        "units": {
            "rain": units.label("rain", system),
            "biomass": units.label("biomass", system),
            "leached": units.label("nitrogen", system),
        },
        "ranged": ranged(len(curve.grid.years)),
        "command": _command(curve),
    }


def _number(value: float, kind: str, system: units.System) -> float:
    return round(float(units.show(value, kind, system)), 2)


def _shown(curve: Curve, row: dict[str, float]) -> dict[str, Any]:
    """Turn a row into the reader's units, short names, and words for whoever points at it."""
    system = curve.asked.system
    made = {
        "mean": "biomass_mean_kg_ha",
        "median": "biomass_median_kg_ha",
        "low": "weather_biomass_low_kg_ha",
        "high": "weather_biomass_high_kg_ha",
        "field_low": "biomass_low_kg_ha",
        "field_high": "biomass_high_kg_ha",
        "bare_mean": "without_nitrogen_mean_kg_ha",
        "bare_median": "without_nitrogen_median_kg_ha",
    }
    lost = {
        "leached_mean": "leached_mean_kg_ha",
        "leached_median": "leached_median_kg_ha",
        "leached_low": "weather_leached_low_kg_ha",
        "leached_high": "weather_leached_high_kg_ha",
    }
    falls = len(curve.grid.years)
    mass = {name: _mass(curve, row[field]) for name, field in made.items()}
    leached = {name: units.spell(row[field], "nitrogen", system) for name, field in lost.items()}
    rain = _rain(curve, row["rain_mm"])
    text = f"{rain[0].upper()}{rain[1:]} in {curve.month}: {mass['mean']}, the mean of the falls"
    if falls > 1:
        text += f" ({ranged(falls)}: {mass['low'].split(' ')[0]} to {mass['high']})"
    text += f"; in a field like these {mass['field_low'].split(' ')[0]} to {mass['field_high']}."
    if len(curve.grid.rates) > 1:
        text += f" Without nitrogen {mass['bare_mean']}."
    return {
        "rain": _number(row["rain_mm"], "rain", system),
        **{name: _number(row[field], "biomass", system) for name, field in made.items()},
        **{name: _number(row[field], "nitrogen", system) for name, field in lost.items()},
        "told": f"{text} Leached: {leached['leached_mean']} of nitrate nitrogen.",
        "cells": [
            units.spell(row["rain_mm"], "water", system).split(" ")[0],
            *(mass[name].split(" ")[0] for name in ("mean", "median")),
            f"{mass['low'].split(' ')[0]} to {mass['high'].split(' ')[0]}",
            f"{mass['field_low'].split(' ')[0]} to {mass['field_high'].split(' ')[0]}",
            mass["bare_mean"].split(" ")[0],
            leached["leached_mean"].split(" ")[0],
        ],
    }


def _command(curve: Curve) -> str:
    """Return the command line that tells the numbers of one step, the usual rain."""
    unit = "inch" if curve.asked.system == "us" else "mm"
    shown = round(float(units.show(curve.usual, "rain", curve.asked.system)), 1)
    others = {"change": f"rain {curve.month.lower()} = {shown:g} {unit}"}
    if len(curve.grid.rates) > 1:
        others["nitrogen"] = f"0 kg/ha,{curve.asked.plan.nitrogen}"
    return command_of("whatif", curve.asked, curve.place, **others)


def table(curve: Curve) -> str:
    """Return the steps as CSV, in SI."""
    about = shared_payload(curve.asked, curve.place, {})
    return table_text(
        {
            "plan": str(about["in_words"]),
            "month": curve.month,
            "usual_rain_mm": f"{curve.usual:.1f}",
            "falls": wording.falls(curve.grid.years),
            "note": "ranges hold weather and field together; those that begin with weather_ are "
            "the weather's alone",
        },
        step_rows(curve),
    )


VIEW = PlanView(
    "rain", OWN, find, payload, table, rows="steps", takes_long=True, offers={"months": OFFERED}
)
