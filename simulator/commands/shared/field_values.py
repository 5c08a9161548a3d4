"""The keys of a field file, and the reading of their values."""

from __future__ import annotations

import datetime
import difflib
import math
import os
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, NamedTuple

from simulator.commands.shared import plan_options
from simulator.problems import Problem, fault, printable, unprintable_note

MOST_VALUES = 100  # of a list
LONGEST_TEXT, LONGEST_PATH, LONGEST_NAME = 1000, 4096, 80
LONGEST_SHOWN = 60


class Key(NamedTuple):
    """A key of the file: what it says, how it is written, and of which kind its value is."""

    meaning: str
    example: str
    kind: str  # text, several (a text or a list of texts), number, or path


KEYS: Mapping[str, Key] = {
    "name": Key("what the field is called", '"Home farm"', "text"),
    "weather": Key("weather file, or packaged sample", '"station.csv"', "path"),
    "latitude": Key("degrees north, where the weather file does not say", "31.3", "number"),
    "site": Key("which site of a weather file with several", '"headland"', "text"),
    "units_of_file": Key("units of the weather file", '"us" or "si"', "text"),
    "date_format": Key("how the weather file writes dates", '"DD/MM/YYYY"', "text"),
    "soil": Key("texture", '"sandy loam"', "text"),
    "soil_nitrate": Key("soil test", '"60 lb/acre to 24 inch on 09-25"', "text"),
    "organic_matter": Key("percent of the topsoil, measured", "1.5", "number"),
    "previous_crop": Key("crop before", '"cotton"', "text"),
    "cereal": Key("what is sown", '"rye"', "text"),
    "variety": Key("early, medium, late, or days against medium", '"early"', "text"),
    "sow": Key("sowing date", '"10-20"', "several"),
    "seeding": Key("seeding rate", '"90 lb/acre"', "several"),
    "nitrogen": Key("nitrogen rate", '"30 lb/acre"', "several"),
    "nitrogen_timing": Key("when it goes on", '"sowing"', "several"),
    "fertilizer": Key("kind of nitrogen", '"urea"', "text"),
    "irrigation": Key("water put on", '"0.5 inch on 10-22"', "several"),
    "end": Key("when the stand is ended", '"04-15"', "several"),
    "planting": Key("when the next crop is planted", '"05-01"', "text"),
    "prices": Key("file of prices", '"my-prices.toml"', "path"),
    "parameters": Key("file of changed parameters", '"fitted.toml"', "path"),
}
PLAN = ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
PATHS = tuple(key for key, about in KEYS.items() if about.kind == "path")
ABOUT_WEATHER = ("latitude", "site", "units_of_file", "date_format")
_OTHER_NAMES = {  # what people may call a key
    **dict.fromkeys(("cultivar", "maturity"), "variety"),
    **dict.fromkeys(("crop", "species", "cover_crop"), "cereal"),
    **dict.fromkeys(("crop_before", "previous"), "previous_crop"),
    **dict.fromkeys(("sown", "sowing_date", "planted"), "sow"),
    **dict.fromkeys(("timing", "nitrogen_date"), "nitrogen_timing"),
    **dict.fromkeys(("termination", "ended", "kill"), "end"),
    **dict.fromkeys(("station", "weather_file"), "weather"),
    **dict.fromkeys(("nitrate", "soil_test"), "soil_nitrate"),
    **dict.fromkeys(("rate", "n"), "nitrogen"),
    **dict.fromkeys(("texture",), "soil"),
    **dict.fromkeys(("planting_date", "next_crop"), "planting"),
    **dict.fromkeys(("place", "field", "farm"), "name"),
}

Tell = Callable[..., None]


def unknown_key(key: str, value: Any) -> tuple[str, str]:
    """Say what is wrong with a key that there is not."""
    if isinstance(value, dict):
        inside = [name for name in value if name.replace("-", "_") in KEYS]
        keys = f" Write {', '.join(inside)} without a section." if inside else ""
        return f"A field file has no sections.{keys}", f"Take the line [{shown(key)}] out."
    plain = key.lower().replace("-", "_")[:LONGEST_NAME]
    if plain in KEYS:
        near = [plain]
    elif plain in _OTHER_NAMES:
        near = [_OTHER_NAMES[plain]]
    else:
        near = difflib.get_close_matches(plain, KEYS, n=1)
    if near:
        return f"There is no such key. Did you mean '{near[0]}'?", "Mend it, or take it out."
    return "There is no such key.", f"Take it out; keys are {', '.join(KEYS)}."


def cleaned(key: str, value: Any, tell: Tell, notes: list[str]) -> Any:
    """Return a value of the kind that its key has; None where it is none, which is told."""
    _, example, kind = KEYS[key]
    remedy = f"Write {key} = {example}."
    if kind == "number" and isinstance(value, int | float) and not isinstance(value, bool):
        return _number(value, tell, remedy)
    texts = value if kind == "several" and isinstance(value, list) else [value]
    faults = [one for text in texts if (one := _wrong_text(key, text))]
    if not 0 < len(texts) <= MOST_VALUES:
        faults = [f"It lists {len(texts)} values, and may list 1 to {MOST_VALUES}."]
    if faults:
        tell(faults[0], remedy)
        return None
    if kind == "path":
        return value
    plain = [" ".join(printable(text).split()) for text in texts]
    if any(printable(text) != text for text in texts):
        notes.append(f"{unprintable_note(f'The key {key!r}')}.")
    if key == "latitude":
        return _number(plain[0].replace("_", "?"), tell, remedy)
    return plain if isinstance(value, list) else plain[0]


def _number(given: float | str, tell: Tell, remedy: str) -> float | None:
    try:
        value = float(given)
    except (ValueError, OverflowError):
        value = math.nan
    if math.isfinite(value):
        return value
    tell(f"'{shown(given)}' is not a number.", remedy)
    return None


def _wrong_text(key: str, value: Any) -> str:
    """Say why a value is no text that can be used; empty where it is one."""
    if isinstance(value, datetime.date | datetime.time):
        return f"{shown(value)} is a date with a year, or a time, and not text."
    if isinstance(value, list):
        return "It is a list, and takes one value."
    if not isinstance(value, str):
        what = "a section" if isinstance(value, dict) else shown(str(value).lower())
        return f"{what} is not text in quotes."
    if not value.strip():
        return "It is empty."
    longest = {"path": LONGEST_PATH}.get(KEYS[key].kind, LONGEST_TEXT)
    longest = LONGEST_NAME if key == "name" else longest
    if len(value) > longest:
        return f"It has {len(value):,} characters, and may have {longest:,}."
    return "It holds a character of no file's name." if "\0" in value else ""


def with_paths(written: Mapping[str, Any], folder: str, tell: Tell) -> dict[str, Any]:
    """Return the values with paths as seen from the working folder."""
    values = dict(written)
    for key in ("prices", "parameters"):
        if key in values:
            values[key] = os.path.join(folder, values[key])
    if (weather := values.get("weather")) is None:
        return values
    from simulator.commands.shared.weather_options import looks_like_file

    beside = os.path.join(folder, weather)
    if os.path.exists(beside) or looks_like_file(weather):
        values["weather"] = beside
        return values
    from simulator.weather.samples import samples

    known = samples()
    if weather not in known:
        near = difflib.get_close_matches(weather[:LONGEST_NAME], known, n=1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        tell(
            "weather",
            f"'{shown(weather)}' is neither a file beside this one nor a packaged sample.{hint}",
            f"Give the path of a file as seen from this one, or one of {', '.join(known)}.",
        )
        return values
    if about := [key for key in ABOUT_WEATHER if key in values]:
        tell(about[0], "It describes a weather file, but the weather is a sample.", "Take it out.")
    return values


def check_values(values: Mapping[str, Any], tell: Tell) -> None:
    """Read every text as commands do."""
    from simulator.parameters.cereals import cereal
    from simulator.parameters.fertilizers import fertilizer
    from simulator.parameters.soils import previous_crop, soil
    from simulator.parameters.varieties import varieties
    from simulator.season import plan
    from simulator.season.soil_test import read_organic_matter, read_soil_test

    readers: dict[str, Callable[[Any], object]] = {
        "cereal": cereal,
        "variety": varieties,
        "soil": soil,
        "previous_crop": previous_crop,
        "fertilizer": fertilizer,
        "soil_nitrate": read_soil_test,
        "organic_matter": read_organic_matter,
        "irrigation": plan.read_irrigation,
        "planting": partial(plan.month_day, name="planting"),
        "units_of_file": _units_of_file,
    }
    for key, read in readers.items():
        if key in values:
            for problem in plan_options.faults(read, [values[key]]):
                tell(key, problem.what, problem.remedy)
    _check_plan(values, tell)


def _units_of_file(text: str) -> None:
    if text not in ("us", "si"):
        raise fault("units_of_file", f"'{shown(text)}' is not known.", "Write us or si.")


def _check_plan(values: Mapping[str, Any], tell: Tell) -> None:
    from simulator.season import plan

    given = {key: texts_of(values[key]) for key in PLAN if key in values}
    usual = {key: [text] for key, text in _USUAL.items()}
    problems: list[Problem] = []
    read = plan_options.gathered(problems, partial(plan_options.plans, **{**usual, **given}))
    if read is not None and "sow" in given and "end" in given:
        plan_options.gathered(
            problems,
            partial(
                plan.check_order,
                [plan.month_day(text, name="sow") for text in read["sow"]],
                [plan.dressings(text) for text in read["nitrogen_timing"]],
                [plan.end(text) for text in read["end"]],
            ),
        )
    for problem in problems:
        tell(str(getattr(problem.where, "name", problem.where)), problem.what, problem.remedy)


_USUAL = {  # where the file says nothing; only read, never used
    "sow": "10-20",
    "seeding": "90 lb/acre",
    "nitrogen": "0 lb/acre",
    "nitrogen_timing": "sowing",
    "end": "04-15",
}


def texts_of(value: str | list[str]) -> list[str]:
    """Return the texts of a key, of which it may have one or several."""
    return [value] if isinstance(value, str) else list(value)


def has_several(value: str | list[str]) -> bool:
    """Say whether a key has several values, in a list or with commas."""
    texts = texts_of(value)
    return len(texts) > 1 or any("," in text for text in texts)


def shown(value: Any) -> str:
    """Return what was given, short, and without what would upset a terminal."""
    return "".join(c if c.isprintable() else "?" for c in str(value)[:LONGEST_SHOWN])
