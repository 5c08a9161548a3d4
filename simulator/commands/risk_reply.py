"""What ``fallsown risk`` finds, place after place, and the wording of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from dataclasses import field as dataclass_field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.commands.shared import options
from simulator.commands.shared.many_places import size_of
from simulator.problems import InputError, Problem

if TYPE_CHECKING:
    import xarray as xr

    from simulator.answers.risk.calculate import Risk
    from simulator.show.answer import Reply
    from simulator.units import System


@dataclass
class Found:
    """The risk of places, one after the other, and what is to be said of them.

    Parameters
    ----------
    places : list of Risk
    units : str
        Of the first record: ``us`` or ``si``, as its place or its file has them.
    problems : list of Problem
        All faults, for the case that no place is left.
    left_out, cautions : list of str
    notes : list of (str, str)
        Place and what is noted of it.
    several_places : bool
        Whether each is told with the name of its place.
    in_full : bool
        Whether each is told by itself, not all in one table.
    kinds : str or None
        How falls are sorted.
    falls_left_out : dict of str to int
        Falls without whole weather, by place.
    filled, invented : int
        Places whose short gaps were filled, and those that do not exist.
    store : dict of str
        Where the grid behind it is kept.
    sentences : list of str
        What is to be said of that.
    """

    problems: list[Problem]
    left_out: list[str]
    several_places: bool
    in_full: bool
    kinds: str | None
    places: list[Risk] = dataclass_field(default_factory=list)
    units: str | None = None
    notes: list[tuple[str, str]] = dataclass_field(default_factory=list)
    cautions: list[str] = dataclass_field(default_factory=list)
    falls_left_out: dict[str, int] = dataclass_field(default_factory=dict)
    filled: int = 0
    invented: int = 0
    store: dict[str, str] = dataclass_field(default_factory=dict)
    sentences: list[str] = dataclass_field(default_factory=list)

    def keep(self, store: Path, grid: xr.Dataset) -> None:
        """Note where the grid behind it is kept."""
        from simulator.answers.places.grid import kept_at

        self.store = {"store": str(store)}
        self.sentences = [kept_at(grid, store, size_of(store))]

    def add(self, name: str, risk_of: Callable[[], Risk]) -> None:
        """Work out a place; where that fails, name it among the left out."""
        from simulator.answers.risk.words import notes
        from simulator.show.cautions import cautions, dead_stands

        try:
            one = risk_of()
        except InputError as error:
            self.problems += error.problems
            more = len(error.problems) - 1
            first = error.problems[0].text(options.spelling())
            reason = first if first.startswith(name) else f"{name}: {first}"
            self.left_out.append(f"{reason} ({more:,} more faults.)" if more else reason)
            return
        attrs = one.grid.attrs
        self.units = self.units or options.shown_units(None, one.grid)
        self.invented += attrs.get("invented") == "yes"
        self.filled += bool(attrs.get("filled"))
        named = attrs if self.in_full else {**attrs, "invented": "no"}
        self.cautions += cautions(named, nitrogen=True, termination=True)
        self.falls_left_out[name] = len(attrs["left_out"])
        before = f"{one.site}: " if self.several_places else ""
        if self.in_full:
            self.left_out += [f"{before}{text}" for text in attrs["left_out"]]
        about = [*attrs["notes"], *notes(one, self.kinds), *dead_stands(one.grid)]
        self.notes += [(one.site, text) for text in about]
        self.places.append(one if self.in_full else one.without_falls())


def reply_of(
    found: Found, *, weights: str | None, asked: str | None, mapped: bool
) -> tuple[Reply, list[dict[str, Any]]]:
    """Say what was found; with it come the rows of a map.

    Raises
    ------
    InputError
        No place is left.
    """
    from simulator.answers.places import map_file
    from simulator.answers.places import risk as places_risk
    from simulator.answers.risk import bare_soil, data, table, words
    from simulator.commands.shared.reporting import make_answer
    from simulator.show.answer import Reply

    if not found.places:
        raise InputError(list(dict.fromkeys(found.problems)))
    system: System = "us" if (asked or found.units) == "us" else "si"
    places = words.with_distinct_names(found.places)
    rows = places_risk.rows_of(places)
    sentences = _sentences(found, places, rows, system)
    notes = (
        [*places_risk.together(found.notes), *places_risk.filled(found.filled)]
        if not found.in_full
        else [f"{site}: {text}" if found.several_places else text for site, text in found.notes]
    )
    if mapped:
        notes += map_file.off_the_map(rows)
    answer = make_answer(
        "risk",
        data.dataset(places),
        left_out=found.left_out,
        notes=notes,
        cautions=list(dict.fromkeys(found.cautions)),
        sentences=[*sentences, *found.sentences],
        **(bare_soil.json_rows(places) if found.in_full else {}),
        **found.store,
    )
    answer.inputs.update(data.inputs(places, found.kinds, weights))

    def draw_it() -> Any:
        from simulator.answers.places import chart as places_chart
        from simulator.answers.risk import chart as risk_chart

        return (
            risk_chart.chart(places, system) if found.in_full else places_chart.chart(rows, system)
        )

    def laid() -> tuple[str, list[str]]:
        return (
            table.text(places, system) if found.in_full else places_risk.text(rows, places, system)
        )

    return Reply(
        answer=answer, draw=draw_it, lay_heading=lambda: laid()[0], lay_tables=lambda: laid()[1]
    ), rows


def _sentences(
    found: Found, places: list[Risk], rows: list[dict[str, Any]], system: System
) -> list[str]:
    """Say what was found: place by place, or of all together."""
    from simulator.answers.places import risk as places_risk
    from simulator.answers.risk import words

    if found.in_full:
        said = [words.sentences(one, system) for one in places]
        if len(places) == 1:
            return said[0]
        alike = [text for text in said[0] if all(text in of_one for of_one in said[1:])]
        own = [
            f"{one.site}: {text}"
            for one, texts in zip(places, said, strict=True)
            for text in texts
            if text not in alike
        ]
        return [*own, *alike]  # what holds for all of them once
    first = places[0]
    found.left_out += places_risk.falls_left_out(found.falls_left_out)
    found.cautions[:0] = places_risk.invented(found.invented, len(places))
    return [
        *places_risk.sentences(rows, first.often, system, first.errors.level),
        *places_risk.of_kinds(places),
    ]
