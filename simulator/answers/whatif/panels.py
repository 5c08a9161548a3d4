"""Panels of changed weather: a quantity against nitrogen, and its difference by sowing date."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from simulator import units
from simulator.show.charts import (
    INK,
    SOFT,
    TEXT,
    Axes,
    Chart,
    Row,
    axis_title,
    data,
    distinguish,
    haloed,
    scale,
)

BY_SOWING = (680, 190)  # width and height of the panel of sowings [px]
LETTER = 0.56  # mean width of a name's letters, as a share of their size
MOST_NAMED = 6  # rates that are each named on the axis


@dataclass(frozen=True, slots=True)
class Lines:
    """What the panels of a quantity have in common.

    Parameters
    ----------
    rows : sequence of dict
        ``line, case, nitrogen`` and the quantities, in the reader's units.
    system : {"us", "si"}
    size : (int, int)
        Width and height of a panel [px].
    axes : mapping or None
        Domain of ``nitrogen``.
    """

    rows: Sequence[Row]
    system: units.System
    size: tuple[int, int]
    axes: Axes | None

    @property
    def names(self) -> list[str]:
        """The lines, in their order."""
        return list(dict.fromkeys(row["line"] for row in self.rows))

    @property
    def rates(self) -> list[float]:
        """The rates of nitrogen, in order."""
        return sorted({row["nitrogen"] for row in self.rows})

    def placed(self, case: str) -> list[Row]:
        """Return the rows of a case, lines a little beside each other so that none hides one."""
        shift, names = 0.016 * (self.rates[-1] or 1.0), self.names
        return [
            {
                **row,
                "at": row["nitrogen"] + shift * (names.index(row["line"]) - len(names) / 2 + 0.5),
            }
            for row in self.rows
            if row["case"] == case
        ]

    def across(self, *, last: bool) -> Any:
        """Return the axis of rates; of a single rate, lines stand beside each other."""
        import altair as alt

        if len(self.rates) < 2:
            title = told_by(self.names) if last else None
            named = {"labelAngle": 0, "labelExpr": _broken(self.names, self.size[0])}
            return alt.X("line:O", sort=self.names, title=title, axis=named)
        most = self.rates[-1]
        every: dict[str, Any] = (
            {"values": self.rates, "format": ".0f"} if len(self.rates) <= MOST_NAMED else {}
        )
        return alt.X(
            "at:Q",
            title=axis_title("nitrogen", "nitrogen", self.system) if last else None,
            axis={**every},
            scale=scale(self.axes, "nitrogen", nice=False, domain=[-0.07 * most, 1.07 * most]),
        )

    def panel(
        self,
        case: str,
        name: str,
        up: Any,
        *,
        title: str,
        last: bool,
        told: Sequence[Row] = (),
    ) -> Chart:
        """Draw a quantity in one case: its lines, both ranges, and figures where they are told.

        Parameters
        ----------
        case, name : str
            Of the rows, and of the quantity in them.
        up : callable
            Returns the vertical axis of a field.
        title : str
        last : bool
            Whether the horizontal axis has its title.
        told : sequence of dict
            Placed rows whose ``told`` is printed.
        """
        import altair as alt

        own = self.placed(case)
        encodings = distinguish("line", self.names, title=told_by(self.names), shapes=True)
        dashed = distinguish("line", self.names, dashes=True)["strokeDash"]
        dashed.legend = None
        if len(self.rates) < 2 and told_by(self.names) == "sown":  # as the axis says
            for encoding in encodings.values():
                encoding.legend = None
        base = alt.Chart(data(own), width=self.size[0], height=self.size[1], title=title).encode(
            x=self.across(last=last), color=encodings["color"]
        )
        layers = []
        if f"{name}_field_low" in own[0]:
            layers.append(
                base.mark_rule(strokeWidth=1.0, opacity=0.6).encode(
                    y=up(f"{name}_field_low"), y2=f"{name}_field_high:Q"
                )
            )
        layers += [
            base.mark_rule(strokeWidth=3.5, opacity=0.45).encode(
                y=up(f"{name}_low"), y2=f"{name}_high:Q"
            ),
            base.mark_line(strokeWidth=2.4).encode(y=up(name), strokeDash=dashed),
            base.mark_point(filled=True, size=75, opacity=1).encode(
                y=up(name), shape=encodings["shape"]
            ),
        ]
        for row, over in _over_or_under(told, name):
            figure = alt.Chart(data([row])).encode(
                x=self.across(last=last), y=up(name), text="told:N"
            )
            layers += haloed(figure, dy=-16 if over else 17, fontWeight="bold")
        return alt.layer(*layers)


def _over_or_under(told: Sequence[Row], name: str) -> list[tuple[Row, bool]]:
    """Say of each figure whether it stands over its point: of several the highest does."""
    highest = max((row[name] for row in told), default=0.0)
    return [(row, row[name] == highest and (len(told) > 1 or highest > 0.0)) for row in told]


def _broken(names: Sequence[str], width: int) -> str:
    """Return what breaks the names of an axis into lines, so that none runs into the next."""
    letters = max(int(width / len(names) / (LETTER * TEXT)), 3)
    if any(len(name) > letters for name in names) and all(len(name.split()) == 2 for name in names):
        letters = 1  # dates: all broken, or none
    texts = {name: textwrap.wrap(name, letters, break_long_words=False) for name in names}
    told = " : ".join(f"datum.label == '{name}' ? {lines}" for name, lines in texts.items())
    return f"{told} : datum.label"


def told_by(lines: Sequence[str]) -> str:
    """Say what lines differ by: the time of nitrogen, or the sowing."""
    timed = any("at sowing" in line or line.startswith("on ") for line in lines)
    return "nitrogen" if timed else "sown"


def nothing(up: Any, name: str) -> Chart:
    """Draw the line of no difference."""
    import altair as alt

    return alt.Chart(data([{name: 0.0}])).mark_rule(color=SOFT).encode(y=up(name))


def by_sowing(
    rows: Sequence[Row],
    system: units.System,
    *,
    title: str,
    size: tuple[int, int] = BY_SOWING,
    axes: Axes | None = None,
) -> Chart:
    """Draw what the change makes more or less of each sowing, times of nitrogen side by side.

    Parameters
    ----------
    rows : sequence of dict
        ``sown, line, more_biomass`` with its ranges and ``more_biomass_told``.
    system : {"us", "si"}
    title : str
    size : (int, int)
        Width and height [px].
    axes : mapping, optional
        Domain of ``more_biomass``.
    """
    import altair as alt

    sowings = list(dict.fromkeys(row["sown"] for row in rows))
    lines = list(dict.fromkeys(row["line"] for row in rows))
    encodings = distinguish("line", lines, title=told_by(lines), shapes=True)
    still = scale(axes, "more_biomass", zero=True)
    label = axis_title("changed less recorded", "biomass", system)

    def up(field: str) -> Any:
        return alt.Y(f"{field}:Q", title=label, scale=still)

    base = alt.Chart(data(rows), width=size[0], height=size[1], title=title).encode(
        x=alt.X(
            "sown:O",
            sort=sowings,
            title="sown",
            axis={"labelAngle": 0, "grid": False, "ticks": False},
        ),
        xOffset=alt.XOffset("line:N", sort=lines, scale={"paddingOuter": 0.7}),
        color=encodings["color"],
    )
    thin = base.mark_rule(strokeWidth=1.0, opacity=0.6).encode(
        y=up("more_biomass_field_low"), y2="more_biomass_field_high:Q"
    )
    thick = base.mark_rule(strokeWidth=5, opacity=0.45).encode(
        y=up("more_biomass_low"), y2="more_biomass_high:Q"
    )
    points = base.mark_point(filled=True, size=90, opacity=1).encode(
        y=up("more_biomass"), shape=encodings["shape"]
    )
    figures = [  # of the first line at the left of its points, of the last at the right
        mark
        for line, dx in ((lines[0], -9), (lines[-1], 9))
        for mark in haloed(
            base.transform_filter(alt.datum.line == line).encode(
                y=up("more_biomass"), text="more_biomass_told:N", color=alt.value(INK)
            ),
            dx=dx,
            align="right" if dx < 0 else "left",
        )
    ]
    return alt.layer(nothing(up, "more_biomass"), thin, thick, points, *figures)
