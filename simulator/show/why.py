"""What made a year differ: tables, and rows for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator import units
from simulator.advice import wording
from simulator.advice.why import BIOMASS, FEWEST, LEACHED, OUTCOMES, PIECES, RESPONSE, Why
from simulator.advice.why_sentences import band
from simulator.show.grids import place
from simulator.show.tables import NOTHING, Column, difference, number, paragraph, table

if TYPE_CHECKING:
    import xarray as xr

FIELD = {BIOMASS: "biomass", RESPONSE: "nitrogen_response", LEACHED: "nitrate_leached"}
KIND: dict[str, str] = {BIOMASS: "mass", RESPONSE: "mass", LEACHED: "nitrogen"}


def shown_outcomes(found: Why) -> tuple[str, ...]:
    """Return the outcomes that there are: without nitrogen there is no response to it."""
    return OUTCOMES if found.about["nitrogen_kg_ha"] > 0 else (BIOMASS, LEACHED)


def heading(found: Why, system: units.System) -> str:
    """Say what was grown where, which year is set beside which, and what the seasons are."""
    about = found.about
    chosen = (
        f" It is the fall that differs most, {wording.join(shown_outcomes(found))} taken together."
        if found.chosen
        else ""
    )
    spans = [
        f"{season} from {wording.dates_in(first)} to {wording.dates_in(last)}"
        for season, (first, last) in found.spans.items()
    ]
    return paragraph(
        f"{str(about['cereal']).capitalize()} on {about['soil']} after {about['previous_crop']}, "
        f"at {place(about)}: the fall of {found.year} beside {wording.falls(found.others)}."
        f"{chosen} Sown on {wording.dates_in(about['sow'])} at "
        f"{units.spell(about['seeding_kg_ha'], 'mass', system)} of seed, with "
        f"{units.spell(about['nitrogen_kg_ha'], 'nitrogen', system)} of nitrogen "
        f"{wording.timing(about['nitrogen_timing'])}, ended {wording.ending(about['end'])}. "
        f"The weather is exchanged by pieces: {wording.join(spans)}."
    )


def tables(found: Why, system: units.System) -> list[str]:
    """Print that year beside the usual, and what each piece of weather made of the difference."""
    return [_outcome_table(found, system), _piece_table(found, system)]


def _outcome_table(found: Why, system: units.System) -> str:
    few = len(found.others) < FEWEST
    columns = [
        Column("", left=True), Column("unit", left=True), Column(str(found.year)),
        Column("usual"), Column("difference"),
        Column("lowest and highest" if few else "8 of 10 other falls"),
    ]  # fmt: skip
    rows = []
    for outcome in shown_outcomes(found):
        kind, usual = KIND[outcome], float(found.usual[outcome].mean())
        low, high = band(found, outcome)
        rows.append([
            outcome, units.label(kind, system), number(found.here[outcome], kind, system),
            number(usual, kind, system), difference(usual, found.here[outcome], kind, system),
            f"{number(low, kind, system)} to {number(high, kind, system)}",
        ])  # fmt: skip
    return table(columns, rows)


def _piece_table(found: Why, system: units.System) -> str:
    title = f"What each piece of {found.year}'s weather made of the difference:"
    return f"{title}\n\n{table(*pieces(found, system))}"


def pieces(found: Why, system: units.System) -> tuple[list[Column], list[list[str]]]:
    """Return the table of pieces: their weather, and what each made of the differences."""
    outcomes = shown_outcomes(found)
    columns = [
        Column("piece of weather", left=True), Column(str(found.year)), Column("usual"),
        *(Column(outcome.replace(" ", "\n", 1), units.label(KIND[outcome], system))
          for outcome in outcomes),
    ]  # fmt: skip
    rows = [
        [piece, *_weather(found, piece, system),
         *(number(found.share(outcome, piece), KIND[outcome], system, sign=True)
           for outcome in outcomes)]
        for piece in PIECES if piece.split()[0] in found.spans
    ]  # fmt: skip
    rows.append(["together", "", "", *(
        difference(float(found.usual[outcome].mean()), found.here[outcome], KIND[outcome], system)
        for outcome in outcomes)])  # fmt: skip
    return columns, rows


def _weather(found: Why, piece: str, system: units.System) -> list[str]:
    kind = "water" if piece.endswith("rain") else "temperature"
    return [units.spell(value, kind, system) if np.isfinite(value) else NOTHING
            for value in found.weather(piece)]  # fmt: skip


def dataset(found: Why) -> xr.Dataset:
    """Return the shares by piece, for programs.

    Parameters
    ----------
    found : Why

    Returns
    -------
    Dataset(piece)
        The span and weather of each piece, and its share of each difference with the range in
        which the shares against 8 of 10 other years lie (of fewer than ten, against all).
    """
    import xarray as xr

    spans = [found.spans.get(piece.split()[0], ("", "")) for piece in PIECES]
    made: dict[str, Any] = {
        "first_day": ("piece", [first for first, _ in spans], {"long_name": "first day"}),
        "last_day": ("piece", [last for _, last in spans], {"long_name": "last day"}),
    }
    for what, name, unit in (
        ("temperature", "temperature_degC", "degC"),
        ("rain", "rain_mm", "mm"),
    ):
        pairs = [found.weather(piece) if piece.endswith(what) and piece.split()[0] in found.spans
                 else (np.nan, np.nan) for piece in PIECES]  # fmt: skip
        for k, whose in enumerate(("", "usual_")):
            made[f"{whose}{name}"] = (
                "piece", [pair[k] for pair in pairs],
                {"units": unit, "long_name": f"{whose.replace('_', ' ')}{what}"},
            )  # fmt: skip
    for outcome in shown_outcomes(found):
        shares = found.shares[outcome]
        ends = (0.0, 100.0) if len(found.others) < FEWEST else (10.0, 90.0)
        low, high = np.percentile(shares, ends, axis=1)
        for end, values in (("", shares.mean(axis=1)), ("_low", low), ("_high", high)):
            made[f"{FIELD[outcome]}_share{end}_kg_ha"] = (
                "piece", values,
                {"units": "kg/ha", "long_name": f"share of the difference in {outcome}"
                 f"{end.replace('_', ', ')}"},
            )  # fmt: skip
    return xr.Dataset(made, {"piece": list(PIECES)}, found.about)


def differences(found: Why) -> dict[str, Any]:
    """Return what the shares add up to, for the JSON object."""
    told: dict[str, Any] = {}
    for outcome in shown_outcomes(found):
        low, high = band(found, outcome)
        told[f"{FIELD[outcome]}_kg_ha"] = {
            "year": found.here[outcome], "usual": float(found.usual[outcome].mean()),
            "difference": found.difference(outcome), "usual_low": low, "usual_high": high,
        }  # fmt: skip
    return {
        "compared_with": list(found.others),
        "differences": told,
        "applied_nitrogen_leached_kg_ha": {
            "by": found.lost_by, "year": found.lost[0], "usual": found.lost[1],
        },
    }  # fmt: skip


def notes(found: Why) -> list[str]:
    """Say how few falls there are, where there are few."""
    if len(found.others) >= FEWEST:
        return []
    return [f"What is usual rests on {len(found.others)} other "
            f"{'fall' if len(found.others) == 1 else 'falls'} only."]  # fmt: skip
