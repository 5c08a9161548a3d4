"""From numbers to an answer: what every command of seasons gathers, prints and writes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simulator import __version__
from simulator.commands.shared import options
from simulator.commands.shared.options import announce, command_line, parameters_used
from simulator.commands.shared.plan_options import MOST_SEASONS
from simulator.commands.shared.sowing import sowings_moved
from simulator.problems import fault, parameters_named, spelled

if TYPE_CHECKING:
    import xarray as xr

    from simulator.show.answer import Reply
    from simulator.show.output import Answer

_DAY = r"\d{4}-\d\d-\d\d"
# as `simulator.weather.fall_year` says it of a season that is not within the record
_OUTSIDE = re.compile(
    rf"^(?P<site>.*?)(?P<year>\d{{4}}): (?P<begin>{_DAY}) to (?P<end>{_DAY}) is needed, the record "
    rf"has (?P<first>{_DAY}) to (?P<last>{_DAY})\.$"
)
MANY_ROWS = 500  # of a table, from which on a file serves better

# attributes of an answer's data that its inputs repeat, beside those of its weather
_PLAN = (
    "cereal",
    "variety",
    "soil",
    "previous_crop",
    "fertilizer",
    "sow",
    "seeding_kg_ha",
    "nitrogen_kg_ha",
    "nitrogen_timing",
    "end",
    "year",
    "first",
    "last",
    "upper_degC",
)


def make_answer(
    command: str,
    data: xr.Dataset,
    *,
    left_out: list[str],
    cautions: list[str],
    sentences: list[str],
    notes: list[str],
    **more: Any,
) -> Answer:
    """Make an answer of a grid or a season.

    Parameters
    ----------
    command : str
    data : Dataset
        From `compare`, `run_season` or `degree_days`, with its provenance as attributes.
    left_out, cautions, sentences, notes : list of str
    **more
        What else the JSON object carries, or functions that lay it out when it is asked for.
    """
    from simulator.season.labels import ITS_WEATHER
    from simulator.show.output import FIELD_OF_DIMENSION, Answer, grid_rows, plain

    repeated = (*ITS_WEATHER, *_PLAN)
    inputs = {name: plain(data.attrs[name]) for name in repeated if name in data.attrs}
    for dimension in data.dims:
        if dimension != "time":
            name = FIELD_OF_DIMENSION.get(str(dimension), str(dimension))
            inputs[name] = [plain(value) for value in data[dimension].values]
    changed, parameter_notes = parameters_used()
    inputs.update(changed)
    filled = str(data.attrs.get("filled", ""))
    read = str(data.attrs.get("read_notes", ""))
    kept = [text for text in (f"Short gaps were filled: {filled}." if filled else "", read) if text]
    return spell_parameters(
        Answer(
            command=command,
            version=__version__,
            line=command_line(),
            inputs=inputs,
            data=data,
            rows=grid_rows(data),
            cautions=cautions,
            left_out=outside_together(left_out),
            notes=list(dict.fromkeys([*parameter_notes, *sowings_moved(), *kept, *notes])),
            sentences=sentences,
            more=more,
        )
    )


def outside_together(left_out: Sequence[str]) -> list[str]:
    """Name falls that lie outside the record together, as they stand there one by one.

    ``"1990 to 1994: outside the record, which has 1995-07-01 to 2025-06-30."``
    """
    together: list[str] = []
    falls: list[tuple[str, str, str]] = []

    def close() -> None:
        if falls:
            (site, first, has), last = falls[0], falls[-1][1]
            span = first if first == last else f"{first} to {last}"
            together.append(f"{site}{span}: outside the record, which has {has}.")
            falls.clear()

    for text in left_out:
        match = _OUTSIDE.match(text)
        outside = match and (match["end"] < match["first"] or match["begin"] > match["last"])
        if match is None or not outside:
            close()
            together.append(text)
            continue
        now = (match["site"], match["year"], f"{match['first']} to {match['last']}")
        before = falls[-1] if falls else now
        if before[::2] != now[::2] or int(now[1]) > int(before[1]) + 1:
            close()
        falls.append(now)
    close()
    return together


def spell_parameters(answer: Answer) -> Answer:
    """Spell the parameters that an answer mentions for who asks."""
    spelling = options.spelling()

    def spell(texts: list[str]) -> list[str]:
        return [spelled(text, spelling) for text in texts]

    return replace(
        answer,
        cautions=spell(answer.cautions),
        left_out=spell(answer.left_out),
        notes=spell(answer.notes),
        sentences=spell(answer.sentences),
    )


def check_size(years: list[int] | None, record: xr.Dataset, *counts: int) -> None:
    """Refuse a grid too large to hold, before it is run.

    Raises
    ------
    InputError
        More than `MOST_SEASONS` seasons.
    """
    seasons = len(years) if years else record.sizes["time"] // 365 + 1
    for count in counts:
        seasons *= count
    if seasons > MOST_SEASONS:
        raise fault(
            parameters_named("years", "sow", "seeding", "nitrogen", "nitrogen_timing"),
            f"{seasons:,} seasons are asked for.",
            f"Ask for fewer years, dates or rates: at most {MOST_SEASONS:,}.",
        )


def warn_of_long_table(rows: int) -> None:
    """Say that a long table follows, on standard error; it is printed whole all the same."""
    if rows > MANY_ROWS:
        announce(f"A table of {rows:,} rows follows; --out FILE.csv keeps them in a file.")


def print_reply(reply: Reply, *, chart: Path | None, as_json: bool, out: Path | None) -> None:
    """Draw the chart and write the file that are wanted, then print the answer."""
    from simulator.commands.shared.charting import draw

    text = "" if as_json else reply.text
    if chart is not None and reply.draw is not None:
        draw(reply.draw(), chart)
    print_answer(reply.answer, text, as_json=as_json, out=out)


def print_answer(answer: Answer, text: str, *, as_json: bool, out: Path | None) -> None:
    """Write the file if one is wanted, then print the answer."""
    from simulator.show.output import json_text, write

    if out is not None:
        write(answer, out)
    click.echo(json_text(answer) if as_json else text)
    if out is not None:
        announce(f"Written: {out}, {len(answer.rows):,} rows.")
