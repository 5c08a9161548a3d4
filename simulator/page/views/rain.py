"""Rain as a curve: biomass, leached nitrate and what nitrogen brings against a month's rain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import pairwise

import numpy as np

from simulator import units
from simulator.answers.shared.field_ranges import Ranges, biomass_ranges, difference_ranges
from simulator.page.growing import Array, Changes, weather
from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.page.sown import Sown
from simulator.page.views.plan_link import grown_with, one_of
from simulator.problems import fault
from simulator.season.compare import grow_layout
from simulator.season.layout import lay_out
from simulator.season.plan import ANY_YEAR, day_number, month_day
from simulator.season.plan import end as read_end
from simulator.season.seasons import cut_seasons, latitude_of, stacked
from simulator.show.tables import spread
from simulator.weather.change import changed_by
from simulator.weather.change_text import MONTHS, Change, parse_change

# months in which a stand can grow, in the order of a season
OFFERED = (*MONTHS[8:], *MONTHS[:5])
NAMES = ("November", *(name for name in OFFERED if name != "November"))  # the usual one first
STEPS = 15  # of the curve, at most; about 12
ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
MOST_RAIN = 1000.0  # in a month [mm]
LEAST_RAIN = 25.0  # [mm] that a curve goes to at least
ROOM = 1.2  # beyond the wettest month of the record
LITTLE = 50.0  # kg/ha of biomass: a response that there is nothing to halve of
MOST_SEASONS = 480  # grown in one call of the loop: what drives them takes 25 MB
KEPT = 16


def most_rain(text: str) -> str:
    """Check the rain up to which the curve goes; nothing said is by the record."""
    if text:
        most = units.parse(text, "mm", name="most")
        if not LEAST_RAIN <= most <= MOST_RAIN:
            raise fault(
                "most",
                f"'{text[:40]}' is out of range.",
                f"Take {LEAST_RAIN:g} to {MOST_RAIN:g} mm (1 to 39 inch).",
            )
    return text


OWN = {"month": one_of("month", NAMES), "most": most_rain}


@dataclass(frozen=True)
class Grid:
    """A plan grown in every fall, with and without its nitrogen, at several rains of a month.

    Parameters
    ----------
    years : tuple of int
    rates : tuple of float
        Nitrogen [kg/ha]: none, and the plan's where it has any.
    biomass, leached : array (step, fall, rate)
        At the end [kg/ha].
    left_out : tuple of str
        Falls whose weather is not whole, with the reason.
    """

    years: tuple[int, ...]
    rates: tuple[float, ...]
    biomass: Array
    leached: Array
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class Curve:
    """What a month's rain does to a plan.

    Parameters
    ----------
    asked : Question
    place : PlaceWeather
    month : str
    texts : tuple of str
        The rains of the curve as changes have them: ``"8 inch"``; the last is `usual`.
    rain : array (step,)
        [mm], ascending.
    usual : float
        Median of the record's own months [mm].
    recorded : array (fall,)
        The record's own months, the falls that are grown [mm].
    grid : Grid
        Of ``rain``.
    at_usual : Grid
        One step, of ``usual``.
    """

    asked: Question
    place: PlaceWeather
    month: str
    texts: tuple[str, ...]
    rain: Array
    usual: float
    recorded: Array
    grid: Grid
    at_usual: Grid

    @property
    def most(self) -> float:
        """Rain up to which the curve goes [mm]."""
        return float(self.rain[-1])

    def response(self, grid: Grid) -> Array:
        """Return what the nitrogen brings more than none (step, fall) [kg/ha]."""
        return np.asarray(grid.biomass[:, :, -1] - grid.biomass[:, :, 0])

    @property
    def brings(self) -> Ranges:
        """Ranges of what the nitrogen brings at the usual rain [kg/ha]."""
        return difference_ranges(self.response(self.at_usual)[0])


@dataclass(frozen=True)
class Halved:
    """Where the response to nitrogen is half of what it is at the usual rain.

    Parameters
    ----------
    usual : float
        Mean response at the usual rain [kg/ha].
    more, less : float or None
        The nearest rain above and below the usual one at which it is half [mm].
    """

    usual: float
    more: float | None
    less: float | None


def find(asked: Question, place: PlaceWeather, own: dict[str, str]) -> Curve:
    """Grow a plan at each step of a month's rain, in every fall.

    Raises
    ------
    InputError
        A month that lies outside the season, or that the record does not have.
    """
    month = own["month"]
    _check(asked.plan, month)
    recorded = month_totals(place, asked.changes, month)
    years = _whole_falls(place, asked)
    known = np.array([recorded.get(year, np.nan) for year in years])
    if not np.isfinite(known).any():
        raise fault("month", f"No {month} of the record is whole.", "Take another month.")
    usual = float(np.nanmedian(known))
    texts = steps(asked.system, own["most"], float(np.nanmax(known)))
    at_usual = _text(usual, asked.system)
    both = partial(_grown, place, asked.plan, asked.changes, month)
    rain = np.array([units.parse(text, "mm", name="most") for text in texts])
    usual_mm = units.parse(at_usual, "mm", name="most")
    return Curve(asked, place, month, texts, rain, usual_mm, known, both(texts), both((at_usual,)))


def _check(plan: Sown, month: str) -> None:
    number = MONTHS.index(month) + 1
    first = day_number(ANY_YEAR, f"{number:02d}-01")
    if first > day_number(ANY_YEAR, plan.end):
        raise fault(
            "month",
            f"{month} comes after the stand is ended on {plan.end}.",
            "Take an earlier month, or a later end.",
        )


def _whole_falls(place: PlaceWeather, asked: Question) -> tuple[int, ...]:
    """Return the falls whose weather is whole from sowing to the end."""
    plan = asked.plan
    cut = cut_seasons(weather(place, asked.changes), place.years, [plan.sow], [read_end(plan.end)])
    return cut.years


@lru_cache(KEPT)
def month_totals(place: PlaceWeather, changes: Changes, month: str) -> dict[int, float]:
    """Return the rain of a month by fall year [mm], months with a missing day left out."""
    change = _rain_change(month, "0 mm")
    record = weather(place, changes)
    days = record["time"].values.astype("datetime64[D]")
    rain = record["rain"].values
    number = MONTHS.index(month) + 1
    found = {}
    for span in change.occurrences(days):
        first = days[span[0]].item()
        whole = days[span[-1]].item().month == number and first.day == 1
        after = (days[span[-1]] + np.timedelta64(1, "D")).item()
        if whole and after.day == 1 and np.isfinite(rain[span]).all():
            found[first.year - (number < 7)] = float(rain[span].sum())
    return found


def _rain_change(month: str, text: str) -> Change:
    return parse_change(f"rain {month.lower()} = {text}")


def _text(mm: float, system: units.System) -> str:
    """Write rain as a change has it, as finely as a reader takes it."""
    shown = float(units.show(mm, "rain", system))
    return f"{shown:.1f} inch" if system == "us" else f"{shown:.0f} mm"


def steps(system: units.System, most: str, wettest: float) -> tuple[str, ...]:
    """Return the rains of a curve from none to the most, `STEPS` round ones at most.

    Parameters
    ----------
    system : {"us", "si"}
    most : str
        With its unit; empty for as far as a record goes, and some way on.
    wettest : float
        The record's wettest month [mm].
    """
    unit = "inch" if system == "us" else "mm"
    if most:
        end = float(units.show(units.parse(most, "mm", name="most"), "rain", system))
    else:
        end = float(units.show(max(ROOM * wettest, LEAST_RAIN), "rain", system))
    step = _round_step(end / STEPS)
    if not most:
        end = step * math.ceil(end / step - 1e-9)
    count = math.floor(end / step + 1e-9)
    rains = [step * at for at in range(count + 1)]
    if end - rains[-1] > 1e-6 * end:
        rains.append(end)
    return tuple(f"{round(rain, 3):g} {unit}" for rain in rains)


def _round_step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in ROUND if step * power >= least - 1e-9)


@lru_cache(KEPT)
def _grown(
    place: PlaceWeather, plan: Sown, changes: Changes, month: str, texts: tuple[str, ...]
) -> Grid:
    """Grow a plan with and without nitrogen in every fall, at each rain of a month."""
    record = weather(place, changes)
    rate = plan.nitrogen_kg_ha
    rates = ["0 kg/ha", plan.nitrogen] if rate > 0.0 else ["0 kg/ha"]
    layout = lay_out(**grown_with(plan, nitrogen=rates))
    latitude = latitude_of(record)
    sow, ends = [plan.sow], [read_end(plan.end)]
    each = max(MOST_SEASONS // len(place.years), 1)
    blocks: list[Array] = []
    for at in range(0, len(texts), each):
        parts = [
            cut_seasons(changed_by(record, _rain_change(month, text)), place.years, sow, ends)
            for text in texts[at : at + each]
        ]
        first = parts[0]
        grown = grow_layout(layout, stacked(parts), latitude)
        blocks.append(grown.reshape(len(parts), len(first.years), len(rates)))
    grown = np.concatenate(blocks)
    return Grid(
        first.years,
        layout.rates,
        np.asarray(grown["biomass_kg_ha"]),
        np.asarray(grown["nitrate_leached_kg_ha"]),
        first.left_out,
    )


def halved(curve: Curve) -> Halved | None:
    """Find the rain at which nitrogen brings half of what it brings at the usual rain.

    Returns
    -------
    Halved or None
        None without nitrogen, and where it brings hardly anything at the usual rain. Between
        steps the mean response is taken as a straight line.
    """
    if len(curve.grid.rates) < 2:
        return None
    usual = float(curve.response(curve.at_usual)[0].mean())
    if usual < LITTLE:
        return None
    means = curve.response(curve.grid).mean(axis=1)
    rain, half = curve.rain, usual / 2.0
    above, below = rain > curve.usual, rain < curve.usual
    return Halved(
        usual,
        _crossing_of_half(
            [(curve.usual, usual), *zip(rain[above], means[above], strict=True)], half
        ),
        _crossing_of_half(
            [(curve.usual, usual), *zip(rain[below][::-1], means[below][::-1], strict=True)], half
        ),
    )


def _crossing_of_half(points: list[tuple[float, float]], half: float) -> float | None:
    """Return where a line through points first falls to a half."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if y1 <= half:
            return float(x0 + (x1 - x0) * (y0 - half) / (y0 - y1))
    return None


def step_rows(curve: Curve) -> list[dict[str, float]]:
    """Return a row a step, in SI: mean, median and ranges of biomass, nitrate and response."""
    rows = []
    for at, rain in enumerate(curve.rain.tolist()):
        made, lost = curve.grid.biomass[at], curve.grid.leached[at, :, -1]
        ranges, low_high = biomass_ranges(made[:, -1]), spread(lost)
        brings = difference_ranges(curve.response(curve.grid)[at])
        rows.append(
            {
                "rain_mm": rain,
                "biomass_mean_kg_ha": float(made[:, -1].mean()),
                "biomass_median_kg_ha": float(np.median(made[:, -1])),
                **ranges.row(),
                "without_nitrogen_mean_kg_ha": float(made[:, 0].mean()),
                "without_nitrogen_median_kg_ha": float(np.median(made[:, 0])),
                "response_mean_kg_ha": float(curve.response(curve.grid)[at].mean()),
                **brings.row("response"),
                "leached_mean_kg_ha": float(lost.mean()),
                "leached_median_kg_ha": float(np.median(lost)),
                "weather_leached_low_kg_ha": low_high[0],
                "weather_leached_high_kg_ha": low_high[1],
            }
        )
    return rows


def ends_within(curve: Curve) -> bool:
    """Say whether the stand is ended within the month, whose later rain then changes nothing."""
    end = month_day(curve.asked.plan.end, name="end")
    return MONTHS[int(end[:2]) - 1] == curve.month
