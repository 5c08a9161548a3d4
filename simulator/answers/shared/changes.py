"""A change of the weather in words."""

from __future__ import annotations

from simulator import units
from simulator.weather.change_text import Change


def describe(change: Change, system: units.System) -> str:
    """Say a change in the system's own units: ``"11 in of rain in each November"``."""
    if change.operation == "times":
        return change.describe()
    size = abs(change.amount)
    asked = water(size, system).replace(".0 ", " ")  # given: "11 in" is no less sure
    if change.operation == "set":
        return f"{asked} of rain {change.span}"
    more = change.amount > 0
    if change.quantity == "rain":
        return f"{asked} {'more' if more else 'less'} rain {change.span}"
    degrees = units.spell(size, "step", system).replace(".0 ", " ")
    if change.quantity == "temperature":
        return f"the air {degrees} {'warmer' if more else 'cooler'} {change.span}"
    return f"{change.quantity} {degrees} {'higher' if more else 'lower'} {change.span}"


def water(value: float, system: units.System) -> str:
    """Spell an amount of rain."""
    return units.spell(value, "water", system)
