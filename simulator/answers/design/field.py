"""A trial's field: its plots by number, as a plan to print and as a plot table to fill in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simulator import __version__, units
from simulator.answers.design.calculate import Design
from simulator.season.plan import dressings
from simulator.show import wording
from simulator.show.csv_table import table_text
from simulator.show.tables import Column, table
from simulator.trials.design.layout import Plot, laid_out, treatments
from simulator.weather.fall_year import season_day

_UNIT = {"us": "lb/acre", "si": "kg/ha"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A field laid out at random for one fall.

    Parameters
    ----------
    plots : list of Plot
    split : bool
    fall : int
        In which it is sown.
    seed : int
    plans : dict of str to list
        As `Design.plans` has them.
    about : dict
        Attributes of the grid.
    """

    plots: list[Plot]
    split: bool
    fall: int
    seed: int
    plans: dict[str, Any]
    about: dict[str, Any]

    @property
    def blocks(self) -> list[int]:
        """Their numbers."""
        return sorted({plot.block for plot in self.plots})

    @property
    def width(self) -> int:
        """Plots side by side."""
        return max(plot.column for plot in self.plots)


def field_of(design: Design, fall: int | None) -> Field:
    """Lay out the field of a trial for a fall; without one, for that after the last of the record.

    The numbers that are drawn hang on the seed and the fall, so that each year of a trial has a
    field of its own.
    """
    question = design.question
    fall = max(design.falls) + 1 if fall is None else fall
    split = question.whole_plot is not None
    return Field(
        plots=laid_out(
            design.trial.levels, question.blocks, split=split, seed=(question.seed, fall)
        ),
        split=split,
        fall=fall,
        seed=question.seed,
        plans=design.plans,
        about=design.about,
    )


def rows(field: Field, system: units.System) -> list[dict[str, Any]]:
    """Return the plot table to fill in: biomass is blank; rates are in the reader's units."""
    plans, about, unit = field.plans, field.about, _UNIT[system]
    last = str(season_day(field.fall, plans["end"]))
    found = []
    for plot in field.plots:
        sow, seeding, nitrogen = plot.levels
        sown = str(season_day(field.fall, plans["sow"][sow]))
        found.append(
            {
                "site": about["site"],
                "latitude": about["latitude"],
                "cereal": about["cereal"],
                "soil": about["soil"],
                "previous_crop": about["previous_crop"],
                "fertilizer": about["fertilizer"],
                "block": plot.block,
                **({"whole_plot": plot.whole_plot} if field.split else {}),
                "plot": plot.plot,
                "treatment": plot.treatment,
                "sown": sown,
                "sampled": last,
                f"seeding ({unit})": _rate(plans["seeding"][seeding], system),
                **_dressed(field, sow, plans["nitrogen"][nitrogen], system),
                f"biomass ({unit})": "",
            }
        )
    return found


def file_text(field: Field, system: units.System, line: str) -> str:
    """Return the plot table as CSV, below comment lines that say what it is."""
    about = {
        "plot_table": layout_sentences(field),
        "made_by": f"fallsown {__version__}",
        "command_line": line,
        "to_fill_in": "biomass, and where the plan was not kept to: sown, sampled, rates and dates",
        **({"invented": "the place is invented"} if field.about.get("invented") == "yes" else {}),
    }
    return table_text(about, rows(field, system))


def _rate(value: float, system: units.System) -> float:
    return round(float(units.show(value, "nitrogen", system)), 2)


def _dressed(field: Field, sow: int, rate: float, system: units.System) -> dict[str, Any]:
    """Share the nitrogen out among fall and spring, with the date of each."""
    unit, given = _UNIT[system], {"fall": 0.0, "spring": 0.0}
    when: dict[str, str] = {"fall": "", "spring": ""}
    for one in dressings(field.plans["nitrogen_timing"]):
        date = one.when or field.plans["sow"][sow]
        season = "fall" if date >= "07-01" else "spring"
        given[season] += one.share * rate
        when[season] = when[season] or str(season_day(field.fall, date))
    found: dict[str, Any] = {}
    for season, amount in given.items():
        found[f"nitrogen_{season} ({unit})"] = _rate(amount, system)
        found[f"{season}_nitrogen_date"] = when[season]
    return found


def treatment_names(plans: dict[str, Any], system: units.System) -> list[tuple[str, str, str]]:
    """Return the date and the rates of each treatment, in the order of their numbers."""
    levels = tuple(len(plans[name]) for name in ("sow", "seeding", "nitrogen"))
    return [
        (
            wording.dates_in(plans["sow"][sow]),
            units.spell(plans["seeding"][seeding], "mass", system),
            units.spell(plans["nitrogen"][nitrogen], "nitrogen", system),
        )
        for sow, seeding, nitrogen in treatments(levels)
    ]


def layout_sentences(field: Field) -> str:
    """Say how the field was drawn."""
    kind = "split plots, sowing dates as whole plots" if field.split else "complete blocks"
    deep = len({plot.row for plot in field.plots if plot.whole_plot == 1})
    row = "Each row" if deep == 1 else f"Each {deep} rows"
    rows_are = f"{row} of a block {'is' if deep == 1 else 'are'} a whole plot. "
    rows_are = rows_are if field.split else ""
    return (
        f"Field of fall {field.fall}: {len(field.blocks)} blocks, drawn at random with seed "
        f"{field.seed} ({kind}). {rows_are}Put blocks across the slope of the ground, and lay "
        "each fall out anew."
    )


def plan_text(field: Field, system: units.System) -> list[str]:
    """Print the field: each plot's number and, after the colon, its treatment; then the key."""
    lines = []
    for block in field.blocks:
        lines += [f"Block {block}", *_block(field, block), ""]
    names = treatment_names(field.plans, system)
    columns = [
        Column("treatment"),
        Column("sown", left=True),
        Column("seeded at"),
        Column("nitrogen"),
    ]
    key = table(columns, [[str(at), *name] for at, name in enumerate(names, start=1)])
    read = "Numbers run along each row; after the colon stands the treatment."
    return [f"{layout_sentences(field)} {read}", "\n".join(lines).rstrip(), key]


def _block(field: Field, block: int) -> Sequence[str]:
    here = [plot for plot in field.plots if plot.block == block]
    wide = len(str(max(plot.plot for plot in field.plots)))
    cell = len(str(max(plot.treatment for plot in field.plots)))
    printed: dict[int, list[str]] = {}
    for plot in here:
        printed.setdefault(plot.row, []).append(f"{plot.plot:>{wide}}:{plot.treatment:<{cell}}")
    return ["  " + "  ".join(row).rstrip() for row in printed.values()]
