"""fallsown: fall-sown winter cereals as cover crops, grown by the weather.

The names below are loaded when they are first used, so that importing the package stays cheap.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

# answers with sentences, tables and a chart, as the commands of the same names give them
_QUESTIONS = (
    "whatif",
    "response",
    "risk",
    "why",
    "degree_days",
    "cover",
    "timing",
    "budget",
    "outlook",
    "sensitivity",
    "agree",
    "fit",
    "analyse_plots",
    "design_trial",
)
_WHERE = {
    "InputError": "simulator.problems",
    "WeatherDoubt": "simulator.problems",
    "Plan": "simulator.season.plan",
    "change_weather": "simulator.weather.change",
    "chart": "simulator.answers.picture",
    "compare": "simulator.season.compare",
    "find_places": "simulator.weather.places",
    "fit_climatology": "simulator.weather.generator.fit",
    "generate_weather": "simulator.weather.generator.generated",
    "open_grid": "simulator.season.grid",
    "progress": "simulator.progress_bar",
    "read_field": "simulator.commands.shared.field_file",
    "read_weather": "simulator.weather.files.reading",
    "record_from_frame": "simulator.weather.files.frames",
    "run_grid": "simulator.season.grid",
    "run_season": "simulator.season.one_season",
    "sample_weather": "simulator.weather.samples",
    "samples": "simulator.weather.samples",
    **dict.fromkeys(_QUESTIONS, "simulator.commands.from_python"),
}

__all__ = [
    "InputError",
    "Plan",
    "WeatherDoubt",
    "agree",
    "analyse_plots",
    "budget",
    "change_weather",
    "chart",
    "compare",
    "cover",
    "degree_days",
    "design_trial",
    "find_places",
    "fit",
    "fit_climatology",
    "generate_weather",
    "open_grid",
    "outlook",
    "progress",
    "read_field",
    "read_weather",
    "record_from_frame",
    "response",
    "risk",
    "run_grid",
    "run_season",
    "sample_weather",
    "samples",
    "sensitivity",
    "timing",
    "whatif",
    "why",
]


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*__all__, *(name for name in globals() if name.startswith("__"))})
