"""The season so far in sentences and a table: before and after what was measured."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.outlook import clipped_words, words
from simulator.answers.outlook.calculate import Outlook
from simulator.answers.outlook.clipped_data import without_measured
from simulator.answers.outlook.data import dataset
from simulator.answers.outlook.table import from_to, when
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.problems import Parameter, spelled
from simulator.show import wording
from simulator.show.cautions import cautions
from simulator.weather.fall_year import season_day

if TYPE_CHECKING:
    import xarray as xr


LABELS = {"today": "'known to'", "year": "'fall of'", "measured": "what you measured"}


def as_labelled(parameter: Parameter) -> str:
    """Spell a parameter as the view's labels have it."""
    return f"{LABELS.get(parameter.name, parameter.name)} {parameter.value}".rstrip()


def answer_of(found: Outlook, asked: Question, place: PlaceWeather) -> dict[str, Any]:
    """Return the sentences, the table, and what is to be kept in mind."""
    system = asked.system
    data = dataset(found, asked.target)
    sentences = words.sentences(found, data, system, asked.target)
    notes = [*place.notes, *found.left_out, *words.notes(found, system)]
    clipped = found.clipped
    return {
        "heading": words.heading(found, system).replace("\n", " "),
        "sentences": [spelled(text, as_labelled) for text in sentences],
        "before_after": _before_and_after(data, asked) if clipped is not None else "",
        "age": words.of_age(found, words.today_is(), system),
        "marks": marks(found),
        "measured": [
            {
                "said": f"{clipped_words.spelled(one, system)} on {wording.dates_in(one.date)}",
                "aside": clipped is not None and one in clipped.aside,
            }
            for one in (() if clipped is None else clipped.measured)
        ],
        "heads": _heads(asked),
        "table": _table(data, found, asked),
        "year": found.known.year,
        "today": found.known.today,
        "notes": [spelled(text, as_labelled) for text in notes],
        "cautions": cautions(found.attrs, nitrogen=True, termination=True),
    }


def marks(found: Outlook) -> dict[str, str]:
    """Say which days are marked: that on which the forecast is made, and today where it is seen."""
    made = f"forecast made on {when(found)}"
    if found.known.as_if:
        made = f"{made}, as if it were today: the record goes on"
    last = found.paths["time"].values[-1].astype("datetime64[D]")
    first = season_day(found.known.year, found.known.today)
    now = words.today_is()
    shown = "" if found.known.as_if or not first < now <= last else f"today, {now.item():%b %-d}"
    return {"made": made, "today": shown}


def _before_and_after(data: xr.Dataset, asked: Question) -> str:
    """Say what the measurements have done to the range, and by how much it is narrower."""
    row = data.isel(as_of=-1, end=-1)
    ends = [
        [float(row[f"{of}biomass_{end}_kg_ha"]) for end in ("low", "high")]
        for of in ("untold_", "")
    ]
    before, after = (high - low for low, high in ends)
    system = asked.system
    share = round(100 * abs(after - before) / before) if before > 0 else 0
    side = "narrower" if after < before else "wider"
    width = f"{share} percent {side}" if share else "as wide"
    then, now = (from_to(low, high, system) for low, high in ends)
    return f"Before what was measured, 8 of 10 lay in {then}; after it, in {now}: {width}."


def _heads(asked: Question) -> list[str]:
    unit = units.label("biomass", asked.system)
    target = units.spell(asked.target, "biomass", asked.system)
    return ["", f"middle case, {unit}", f"8 of 10, {unit}", f"chance of {target}, percent"]


def _table(data: xr.Dataset, found: Outlook, asked: Question) -> list[list[str]]:
    """Return the table: before and after, by the weather alone, and the usual."""
    now = data.isel(as_of=-1, end=-1)
    before = without_measured(data).isel(as_of=-1, end=-1)
    rows = [("weather and field together", before, "biomass", "chance_percent")]
    if found.clipped is not None:
        rows = [
            ("before what was measured", before, "biomass", "chance_percent"),
            ("after what was measured", now, "biomass", "chance_percent"),
        ]
    rows.append(("by the weather alone", before, "weather", "weather_chance_percent"))
    laid = [
        [
            name,
            _figure(float(row[f"{of}_median_kg_ha"]), asked),
            _ends(row, of, asked),
            f"{float(row[chance]):.0f}",
        ]
        for name, row, of, chance in rows
    ]
    usual = _figure(float(now["usual_median_kg_ha"]), asked)
    return [*laid, ["the usual of this place, as simulated", usual, _ends(now, "usual", asked), ""]]


def _ends(row: xr.Dataset, of: str, asked: Question) -> str:
    return " to ".join(_figure(float(row[f"{of}_{end}_kg_ha"]), asked) for end in ("low", "high"))


def _figure(value: float, asked: Question) -> str:
    return units.spell(value, "biomass", asked.system).split(" ")[0]
