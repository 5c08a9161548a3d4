"""One season: growth with its stages, rain and drainage, nitrate, temperature, thermal time.

Its panels are those of `panels`, and of `stand_panels` those that one stand alone has.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from simulator import units
from simulator.answers.season import panels
from simulator.answers.season.panels import CHANGED, RECORDED, WIDE, across
from simulator.answers.season.rows import events, season_rows, span
from simulator.answers.season.stand_panels import (
    HALF,
    nitrate_by_depth,
    rain_and_drainage,
    thermal_time,
)
from simulator.answers.shared.changes import describe
from simulator.show import wording
from simulator.show.charts import Axes, Chart, Row, finish, scales_apart, subject
from simulator.weather.change_text import parse_change

if TYPE_CHECKING:
    import xarray as xr

ALONE = {RECORDED: ""}  # one stand, without a legend
CASES = {RECORDED: "weather as recorded", CHANGED: "weather changed"}
Season = tuple["xr.Dataset", "xr.Dataset"]  # its days, and the record it grew in


def chart(
    days: xr.Dataset,
    system: units.System,
    *,
    weather: xr.Dataset | None = None,
    axes: Axes | None = None,
) -> Chart:
    """Draw a season.

    Parameters
    ----------
    days : Dataset(time)
        From `run_season`. Nitrate is drawn by depth where it has ``nitrate_by_layer_kg_ha``
        (time, layer) with the coordinate ``bottom_cm`` (layer), else for the whole column.
    system : {"us", "si"}
    weather : Dataset(time), optional
        The record it grew in, for the air's temperature.
    axes : mapping, optional
        Domains of ``biomass``, ``rain``, ``nitrogen``, ``temperature``, ``thermal_time``.

    Returns
    -------
    Chart
    """
    import altair as alt

    rows = season_rows(days, system, weather)
    held: dict[str, Any] = {"labels": ALONE, "size": HALF, "axes": axes}
    if "nitrate_by_layer_kg_ha" in days:
        layers = days["nitrate_by_layer_kg_ha"]
        soil = nitrate_by_depth(days, layers.values, layers["bottom_cm"].values, system, axes=axes)
    else:
        soil = panels.nitrogen(rows["days"], system, **held)
    low = [rain_and_drainage(days, system, axes=axes), soil]
    last = []
    if weather is None:
        last = [thermal_time(days, system, size=(WIDE[0], HALF[1]), axes=axes)]
    else:
        low += [
            panels.temperature(rows["air"], system, **held),
            thermal_time(days, system, axes=axes),
        ]
    ends = span(days)
    high = panels.growth(
        rows["stand"],
        rows["marks"],
        system,
        labels=ALONE,
        done=rows["done"],
        x=across(ends, labels=False),
        axes=axes,
    )
    steps = panels.stages(rows["marks"], x=across(ends))
    apart = scales_apart("color", "strokeDash")
    small = alt.concat(*low, columns=2, spacing=30, resolve=apart)
    laid = alt.vconcat(high, steps, small, *last, spacing=28, resolve=apart)
    return finish(laid, *headline(days, system))


def before_and_after(
    recorded: Season, changed: Season, system: units.System, *, axes: Axes | None = None
) -> Chart:
    """Draw a season in the weather as recorded beside the same in changed weather.

    Parameters
    ----------
    recorded, changed : (Dataset(time), Dataset(time))
        Days from `run_season`, and the record they grew in.
    system : {"us", "si"}
    axes : mapping, optional
        Domains of ``biomass``, ``water``, ``nitrogen``, ``temperature``.

    Returns
    -------
    Chart
    """
    seasons = dict(zip(CASES, (recorded, changed), strict=True))
    rows: dict[str, list[Row]] = {}
    for series, (days, weather) in seasons.items():
        for name, found in season_rows(days, system, weather, series).items():
            rows.setdefault(name, []).extend(found)
    rows["done"] = events(recorded[0])
    rows["marks"] = [{**row, **panels.UNDATED} for row in rows["marks"]]
    drawn = panels.stacked(rows, system, labels=CASES, ends=span(recorded[0]), axes=axes)
    return finish(drawn, *changed_headline(recorded[0], changed[0], system))


def headline(days: xr.Dataset, system: units.System) -> tuple[list[str], list[str]]:
    """Say what the stand came to and what leached, and below it how it was grown."""
    about, last = days.attrs, days.isel(time=-1)
    when = wording.dates_in(str(last["time"].values)[5:10])
    leached = units.spell(float(last["nitrate_leached_kg_ha"]), "nitrogen", system)
    if float(last["stand_alive"]):
        made = units.spell(float(last["biomass_kg_ha"]), "biomass", system)
        text = f"{_sown(days)} makes {made} by {when}"
    else:
        text = f"{_sown(days)} does not live on {when}"
    changed = f" Weather changed: {about['changes']}." if about.get("changes") else ""
    return [f"{text[0].upper()}{text[1:]}; {leached} of nitrate nitrogen leach"], [
        f"{_grown(days, system)}{changed}"
    ]


def changed_headline(
    recorded: xr.Dataset, changed: xr.Dataset, system: units.System
) -> tuple[list[str], list[str]]:
    """Say what the change does to the stand and to what leaches."""
    texts = str(changed.attrs["changes"]).split("; ")
    told = wording.join([describe(parse_change(text), system) for text in texts])
    said = told.replace("in each ", "in ")  # of a single season
    before, after = (days.isel(time=-1) for days in (recorded, changed))

    def spelled(field: str, kind: str) -> str:
        ours, usual = (units.spell(float(days[field]), kind, system) for days in (after, before))
        beside = "(as recorded)" if ours == usual else f"in place of {usual.split()[0]}"
        return f"{ours} {beside}"

    when = wording.dates_in(str(after["time"].values)[5:10])
    if float(before["stand_alive"]) and float(after["stand_alive"]):
        sentence = f"makes {spelled('biomass_kg_ha', 'biomass')} by {when}"
    elif float(before["stand_alive"]):
        sentence = f"does not live on {when}"
    else:
        sentence = (
            f"does not live on {when}, as recorded"
            if not float(after["stand_alive"])
            else f"lives on {when}, as it does not in the weather as recorded"
        )
    leach = f"{spelled('nitrate_leached_kg_ha', 'nitrogen')} of nitrate nitrogen leach"
    return [f"With {said}: {_sown(changed)} {sentence}; {leach}"], [_grown(changed, system)]


def _sown(days: xr.Dataset) -> str:
    about = days.attrs
    return f"{about['cereal']} sown {wording.dates_in(str(about['sow']))}, {about['year']}"


def _grown(days: xr.Dataset, system: units.System) -> str:
    """Say where and how it was grown."""
    about = days.attrs
    nitrogen = float(about["nitrogen_kg_ha"])
    fed = "no nitrogen"
    if nitrogen:
        when = wording.timing(str(about["nitrogen_timing"]))
        fed = f"{units.spell(nitrogen, 'nitrogen', system)} of nitrogen {when}"
    seed = units.spell(float(about["seeding_kg_ha"]), "mass", system)
    return f"{subject(about)} {seed} of seed, {fed}."
