"""The parameter sets as tables for the docs, made from the sets themselves.

``python -m simulator.parameters.describe docs/model.md`` writes the tables of a page again, each
between a line ``<!-- table: cereals -->`` and a line ``<!-- end of table -->``.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from simulator.parameters.bounded import BoundedSet
from simulator.parameters.cereals import CEREALS
from simulator.parameters.fertilizers import FERTILIZERS
from simulator.parameters.field_spread import RYE
from simulator.parameters.model_error import GAIN, LEVEL, RESPONSE
from simulator.parameters.plot_spread import PLOTS
from simulator.parameters.residues import LIES
from simulator.parameters.soils import PREVIOUS_CROPS, SOILS
from simulator.parameters.terminations import SEED
from simulator.parameters.varieties import VARIETIES
from simulator.problems import InputError, fault

SETS: Mapping[str, Mapping[str, BoundedSet]] = {
    "cereals": CEREALS,
    "soils": SOILS,
    "previous crops": PREVIOUS_CROPS,
    "fertilizers": FERTILIZERS,
    "residues": LIES,
    "varieties": VARIETIES,
    "seed": {SEED.name: SEED},
    "fields": {RYE.name: RYE},
    "plots": {PLOTS.name: PLOTS},
    "model errors": {one.name: one for one in (LEVEL, GAIN, RESPONSE)},
}
_MARKED = re.compile(r"(<!-- table: (?P<name>[^>]*?) -->\n).*?(<!-- end of table -->)", re.DOTALL)


def default_of(sets: Mapping[str, BoundedSet]) -> BoundedSet:
    """Return the default of a kind of set; the first set where each must say all of itself."""
    first = next(iter(sets.values()))
    try:
        return type(first)()
    except TypeError:
        return first


def describe(sets: Mapping[str, BoundedSet]) -> str:
    """Describe the parameters of a kind of set, and how its members differ.

    Parameters
    ----------
    sets : mapping of str to BoundedSet
        Sets of one class by name.

    Returns
    -------
    str
        Two Markdown tables: every parameter with its default, unit, range, meaning and source;
        and, of the parameters that differ, the default set's value and what the others have
        instead.
    """
    default = default_of(sets)
    specs = default.specs()
    every = [
        [
            f"`{key}`",
            f"{getattr(default, key):g}",
            spec.unit,
            f"{spec.low:g} to {spec.high:g}",
            spec.meaning,
            spec.source,
        ]
        for key, spec in specs.items()
    ]
    others = [one for one in sets.values() if one.name != default.name]
    differing = []
    for key in specs:
        own = getattr(default, key)
        values = ["" if getattr(one, key) == own else f"{getattr(one, key):g}" for one in others]
        if any(values):
            differing.append([f"`{key}`", f"{own:g}", *values])
    return "\n\n".join(
        [
            _table(["parameter", default.name, "unit", "range", "meaning", "source"], every),
            _table(["parameter", default.name, *(one.name for one in others)], differing),
        ]
    )


def renew(page: str) -> str:
    """Return a page with the table between each pair of markers made again.

    Raises
    ------
    InputError
        A marker names no kind of set, or a kind has no markers in the page.
    """

    def made(found: re.Match[str]) -> str:
        if found["name"] not in SETS:
            raise fault(
                "page", f"There is no table '{found['name']}'.", f"Name one of {', '.join(SETS)}."
            )
        return f"{found[1]}\n{describe(SETS[found['name']])}\n\n{found[3]}"

    renewed = _MARKED.sub(made, page)
    for name in SETS:
        if f"<!-- table: {name} -->\n\n|" not in renewed:
            raise fault(
                "page",
                f"The table '{name}' has no place.",
                f"Write <!-- table: {name} --> and <!-- end of table -->.",
            )
    return renewed


def _table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out a Markdown table that lines up as plain text, but for its last column."""
    cells = [[cell.replace("|", r"\|") for cell in row] for row in (header, *rows)]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)][:-1]
    lines = []
    for row in cells:
        *most, last = row
        padded = [cell.ljust(width) for cell, width in zip(most, widths, strict=True)]
        lines.append(f"| {' | '.join([*padded, last])} |")
    lines.insert(1, f"|{'|'.join('-' * (width + 2) for width in widths)}|---|")
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> None:
    """Write the tables of the pages named again; all of a page, or nothing."""
    if not arguments:
        raise fault("page", "None is named.", "Write for example docs/model.md.")
    for argument in arguments:
        page = Path(argument)
        page.write_text(renew(page.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    try:
        main(sys.argv[1:])
    except (InputError, OSError) as error:
        sys.exit(str(error))
