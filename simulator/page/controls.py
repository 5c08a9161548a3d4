"""What the page's controls offer."""

from __future__ import annotations

from typing import Any

from simulator import units
from simulator.page.question import usual
from simulator.season import plan as plans
from simulator.weather.samples import samples

# what a slider runs through: lowest, highest, step, unit as it is written in a link
RANGES: dict[units.System, dict[str, tuple[float, float, float, str]]] = {
    "us": {
        "seeding": (20, 180, 5, "lb/acre"),
        "nitrogen": (0, 150, 5, "lb/acre"),
        "target": (500, 12000, 250, "lb/acre"),
        "rain": (0, 20, 0.5, "inch"),
        "warmth": (-12, 12, 0.5, "degF"),
    },
    "si": {
        "seeding": (20, 200, 5, "kg/ha"),
        "nitrogen": (0, 170, 5, "kg/ha"),
        "target": (500, 13500, 250, "kg/ha"),
        "rain": (0, 500, 10, "mm"),
        "warmth": (-6, 6, 0.5, "degC"),
    },
}
# first and last date of the sliders of dates
DATES = {"sow": ("09-01", "01-15"), "end": ("02-15", "05-31"), "fed": ("09-15", "04-15")}
# how nitrogen is shared out, {} being its date
SHARES = {
    "all at sowing": "sowing",
    "all of it on": "{}",
    "half at sowing, half on": "sowing+{}",
    "a third at sowing, two thirds on": "sowing 1/3 + {} 2/3",
}


def choices() -> dict[str, Any]:
    """Return what the controls offer, for the page's own script."""
    days = {
        name: [plans.day_number(plans.ANY_YEAR, date) for date in pair]
        for name, pair in DATES.items()
    }
    return {
        "ranges": RANGES,
        "days": days,
        "shares": SHARES,
        "usual": {system: usual(system) for system in RANGES},
        "samples": {
            sample.name: {"units": sample.units_shown, "climate": sample.climate}
            for sample in samples().values()
        },
    }
