"""The class view on the server: its values, workings, sums, stages, answers and refusals."""

from __future__ import annotations

import asyncio
import csv
import re
from dataclasses import replace
from datetime import date
from math import cos, pi
from pathlib import Path
from urllib.parse import urlencode

import httpx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator import units
from simulator.answers.degree_days.calculate import METHODS, degree_days
from simulator.page.classroom import downloads as class_downloads
from simulator.page.classroom.methods import (
    CURVES,
    CUTOFFS,
    SOURCES,
    VALUES,
    Day,
    Working,
    all_formulas,
    formula,
    method_name,
)
from simulator.page.classroom.question import ClassQuestion, own_limits, read_class_question, usual
from simulator.page.classroom.questions import day_questions, season_questions
from simulator.page.classroom.season import asked_day, months, reached, summed
from simulator.page.classroom.view import day_payload, season_payload
from simulator.page.records import PlaceWeather, Visitors, sample_place
from simulator.page.server import make_app
from simulator.problems import InputError
from simulator.process import thermal_time as counted

KEYS = list(VALUES)
DAYS = [Day(16.0, -6.0, 0.0, 30.0), Day(34.0, 8.0, 10.0, 28.0), Day(40.0, -5.0, 0.0, 30.0),
        Day(-2.0, -10.0, 0.0, 30.0), Day(40.0, 32.0, 4.4, 30.0), Day(12.0, 12.0, 4.0, 30.0),
        Day(20.0, 10.0, 4.0, 30.0)]  # fmt: skip
temperatures = st.floats(-30.0, 45.0).map(lambda value: round(value, 1))
days = st.builds(
    lambda ends, limits: Day(max(ends), min(ends), min(limits), max(limits) + 1.0),
    st.tuples(temperatures, temperatures),
    st.tuples(st.floats(-10, 20), st.floats(-10, 40)),
)


@pytest.fixture(scope="module")
def place() -> PlaceWeather:
    return sample_place("tallow-bend")


def ask(**given: str) -> ClassQuestion:
    return read_class_question(urlencode(given))


def faults(**given: str) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        ask(**given)
    return {problem.where: f"{problem.what} {problem.remedy}" for problem in caught.value.problems}


def air(curve: str, day: Day) -> np.ndarray:
    """A day's temperature in the middles of short steps, from one lowest to the next."""
    x = (np.arange(200_000) + 0.5) / 200_000
    middle, half = (day.tmax + day.tmin) / 2, (day.tmax - day.tmin) / 2
    swing = np.cos(2 * pi * x) if curve == "sine" else 1 - 4 * np.minimum(x, 1 - x)
    return middle - half * swing


@pytest.mark.analytic("a day's curve as each cutoff holds it, by the midpoint rule")
@pytest.mark.parametrize("key", [key for key in KEYS if key[0] in ("triangle", "sine")])
def test_a_cell_is_the_integral_that_it_names(key: tuple[str, str]) -> None:
    curve, cutoff = key
    for day in DAYS:
        runs = air(curve, day)
        above, beyond = np.maximum(runs - day.base, 0.0), np.maximum(runs - day.upper, 0.0)
        warmth = {
            "none": above,
            "horizontal": above - beyond,
            "intermediate": above - 2 * beyond,
            "vertical": np.where(beyond > 0, 0.0, above),
        }[cutoff]
        # a step at which the curve jumps may count whole or not at all
        assert VALUES[key](day) == pytest.approx(max(warmth.mean(), 0.0), abs=5e-4)


@given(days)
def test_without_a_cutoff_the_methods_stand_in_their_order(day: Day) -> None:
    values = [VALUES[curve, "none"](day) for curve in ("mean", "triangle", "sine", "ends")]
    assert values == sorted(values) or np.ptp(np.sort(values) - values) < 1e-9


def test_each_method_of_the_trade_has_its_cell_and_the_command_its_name() -> None:
    assert sorted(method_name(*key) for key in KEYS) == sorted(METHODS)


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_payload_shows_what_the_functions_count(
    system: units.System, place: PlaceWeather
) -> None:
    asked = ask(tmax="34 degC", tmin="8 degC", base="10 degC", upper="28 degC", units=system)
    shown = day_payload(asked, place)
    for (curve, cutoff), count in VALUES.items():
        value = units.show(count(Day(34.0, 8.0, 10.0, 28.0)), "thermal_time", system)
        assert shown["values"][f"{curve} {cutoff}"] == f"{value:.2f}"
    own = units.show(counted.thermal_time(34.0, 8.0), "thermal_time", system)
    assert f"{own:.2f}" in shown["own"]
    assert shown["own_cell"] is None
    assert day_payload(ask(units=system), place)["own_cell"] is None
    own_limits = day_payload(ask(units=system, base="0 degC"), place)
    assert own_limits["own_cell"] == "sine horizontal"


@pytest.mark.analytic("the arithmetic that is written out, worked by Python")
@pytest.mark.parametrize("system", ["us", "si"])
@pytest.mark.parametrize("key", KEYS)
def test_each_working_comes_to_what_it_says(key: tuple[str, str], system: units.System) -> None:
    for day in DAYS:
        lines = Working(day, system).lines(*key)
        assert f"{units.show(VALUES[key](day), 'thermal_time', system) + 0.0:.2f}" in lines[-1]
        for line in lines:
            text = re.sub(r"^(?:M|H\(.\)|θ) = |°[CF] d|radians|, not less than 0|[:;] .*", "", line)
            left, equals, right = text.rpartition(" = ")
            if not equals or "X = " in line:
                continue
            for sign, code in (("−", "-"), ("×", "*"), ("²", "**2"), ("π", "pi")):
                left, right = left.replace(sign, code), right.replace(sign, code)
            value = eval(left, {"arcsin": np.arcsin, "cos": cos, "pi": pi})
            raised = "not less than 0" in line
            # terms are written to two places, angles and shares to four
            assert (max(value, 0) if raised else value) == pytest.approx(
                float(eval(right)), abs=0.026
            )


def test_formulas_name_the_sources_of_the_functions() -> None:
    functions = {
        "mean": counted.average_mean_clamped,
        "ends": counted.average_ends_clamped,
        "triangle": counted.single_triangle,
        "sine": counted.single_sine,
    }
    for curve, function in functions.items():
        written = " ".join(function.__doc__.split())
        first = re.match(r".*?\(\d{4}\)", SOURCES[curve])[0]
        assert first in written
        assert SOURCES[curve].split("), ")[1].split(",")[0] in written
        assert formula(curve, "none")[-1].startswith(first)
    assert len(all_formulas()) == len(KEYS)


@given(days)
def test_degrees_of_one_kind_are_those_of_the_other(day: Day) -> None:
    for key in (("sine", "horizontal"), ("mean", "none")):
        us, si = (
            float(re.search(r"([\d.]+) °[CF] d$", Working(day, s).lines(*key)[-1])[1])
            for s in ("us", "si")
        )
        assert us == pytest.approx(1.8 * si, abs=0.005 + 1.8 * 0.005 + 1e-9)


# ---- the season


def test_sums_are_those_of_the_command(place: PlaceWeather) -> None:
    asked = ask(base="40 degF", upper="70 degF", year="2010", sow="11-01")
    season = summed(asked, place)
    found = degree_days(
        place.record,
        bases=[asked.base],
        upper=asked.upper,
        first="11-01",
        last="05-31",
        years=[2010],
    )["thermal_time_degC_d"]
    wanted = sorted(found.values.ravel())
    assert sorted(sums[-1] for sums in season.sums.values()) == pytest.approx(wanted, rel=1e-9)
    assert str(season.days[0]) == "2010-11-01"
    assert str(season.days[-1]) == "2011-05-31"


def test_between_its_own_limits_the_sine_is_the_simulators_own(place: PlaceWeather) -> None:
    season = summed(ask(year="2003", base="0 degC"), place)
    assert season.sums["sine", "horizontal"] == pytest.approx(season.own, rel=1e-12)
    for stage in season.stages:
        assert stage.sum == season.own[stage.at]
        assert stage.before == season.own[stage.at - 1]
    assert [stage.at for stage in season.stages] == sorted(stage.at for stage in season.stages)
    assert {"emergence", "stem elongation", "boot", "flowering"} <= {s.name for s in season.stages}


def test_a_stage_is_the_first_day_at_its_number() -> None:
    block = np.zeros(6, [("growth_stage_zadoks", float), ("thermal_time_degC_d", float)])
    block["growth_stage_zadoks"] = [0.0, 5.0, 10.2, 12.5, 21.0, 30.4]
    block["thermal_time_degC_d"] = [10, 20, 30, 40, 50, 60]
    # the first leaf comes on the day of the second and is left out; the third shows as tillering
    assert [(s.name, s.at, s.sum, s.before) for s in reached(block)] == [
        ("emergence", 2, 30, 20),
        ("2 leaves", 3, 40, 30),
        ("3 leaves", 4, 50, 40),
        ("first tiller", 4, 50, 40),
        ("stem elongation", 5, 60, 50),
    ]


def test_months_are_whole_and_add_up(place: PlaceWeather) -> None:
    season = summed(ask(year="2003", sow="11-01"), place)
    found = months(season)
    assert [name for name, _ in found] == [
        "November",
        "December",
        "January",
        "February",
        "March",
        "April",
        "May",
    ]
    assert sum(value for _, value in found) == pytest.approx(season.own[-1])


def test_the_fall_shown_first_is_a_usual_one(place: PlaceWeather) -> None:
    came = {year: summed(ask(year=str(year)), place).stages[0].at for year in place.years}
    first = summed(ask(), place).year
    off = {year: abs(day - np.median(list(came.values()))) for year, day in came.items()}
    assert off[first] == min(off.values())
    assert summed(ask(sow="11-20", cereal="wheat"), place).year == first


def test_a_record_that_ends_early_is_shown_as_far_as_it_goes(place: PlaceWeather) -> None:
    record = place.record.sel(time=slice(None, "2011-03-20"))
    short = replace(
        place,
        key="file-short",
        record=record,
        years=tuple(year for year in place.years if year <= 2010),
    )
    season = season_payload(ask(year="2010"), short)
    assert season["dates"][-1] == "2011-03-20"
    assert season["year"] == 2010


def test_why_the_lines_part_is_told(place: PlaceWeather) -> None:
    def told(**given: str) -> str:
        return season_payload(ask(year="2010", **given), place)["apart"]

    own = told(base="0 degC")
    assert own.startswith("The two lines are one")
    other = told(base="40 degF", curve="ends")
    season = summed(ask(year="2010", base="40 degF", curve="ends"), place)
    gap = units.show(season.sums["ends", "horizontal"][-1] - season.own[-1], "thermal_time", "us")
    assert f"counts {abs(gap):,.0f} °F d less than the simulator: the base is 40 °F and" in other
    assert "by average ends clamped, horizontal cutoff and not by single sine" in other
    mild = sample_place("pellow-strand")
    cool = ask(place="pellow-strand", year="2010", base="0 degC", upper="40 degC", units="si")
    assert summed(cool, mild).tmax.max() < 30.0
    assert season_payload(cool, mild)["apart"].startswith(
        "The two lines lie on each other, although the limit is 40 °C and not 30 °C: no day"
    )
    low = replace(cool, base=-15.0, curve="triangle")
    assert summed(low, mild).tmin.min() > -15.0
    assert "The band has no width" in season_payload(low, mild)["apart"]
    assert "more than the simulator" in season_payload(low, mild)["apart"]


@pytest.mark.analytic("days counted one by one: between them the methods agree")
@pytest.mark.parametrize("base", ["40 degF", "60 degF"])
def test_methods_differ_only_on_days_that_cross(place: PlaceWeather, base: str) -> None:
    asked = ask(year="2010", base=base)
    season = summed(asked, place)
    daily = np.diff(list(season.sums.values()), axis=1, prepend=0.0)
    differ = np.ptp(daily, axis=0) > 1e-9
    told = season_payload(asked, place)["apart"]
    assert f"{differ.sum()} of {differ.size}; on the others" in told


# ---- what is taken away

WARM_DAY = {"tmax": "100 degF", "tmin": "30 degF", "base": "50 degF"}


def read_table(text: str) -> list[dict[str, str]]:
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize(("system", "degrees"), [("us", "degF"), ("si", "degC")])
def test_the_days_table_has_every_method(
    place: PlaceWeather, system: units.System, degrees: str
) -> None:
    asked = ask(units=system, **WARM_DAY)
    text = class_downloads.table(asked, place, "day")
    rows = read_table(text)
    for row, ((curve, _), count) in zip(rows, VALUES.items(), strict=True):
        value = units.show(count(asked_day(asked, place)), "thermal_time", system)
        assert float(row[f"thermal time ({degrees} d)"]) == pytest.approx(value, abs=5e-5)
        assert row["source"] == SOURCES[curve]
    assert "# chosen_method: single sine, horizontal cutoff\n" in text
    taken = class_downloads.table(ask(taken="2010-12-08"), place, "day")
    assert "# day: Dec 8 2010 at Tallow Bend (an invented place)\n" in taken


@pytest.mark.analytic("the mean of the hours' warmth is the day's, by the midpoint rule")
@pytest.mark.parametrize("key", KEYS)
def test_the_hours_of_a_day_add_up(key: tuple[str, str], place: PlaceWeather) -> None:
    curve, cutoff = key
    for day in DAYS:
        given = {name: f"{getattr(day, name)} degC" for name in ("tmax", "tmin", "base", "upper")}
        asked = ask(units="si", curve=curve, cutoff=cutoff, **given)
        rows = read_table(class_downloads.table(asked, place, "curve"))
        warmth = np.array([float(row["counted by the chosen method (degC)"]) for row in rows])
        hours = np.array([float(row["hour (h)"]) for row in rows])
        assert hours.mean() == pytest.approx(12.0)
        # the vertical cutoff jumps from U - B to nothing: twice, each within one of 96 steps
        jump = 2 * (day.upper - day.base) / 96 if cutoff == "vertical" else 0.0
        assert max(warmth.mean(), 0.0) == pytest.approx(VALUES[key](day), abs=0.01 + jump)
        if curve in ("triangle", "sine"):
            runs = air(curve, day)
            at = (hours / 24.0 * runs.size).astype(int)
            shown = [float(row[f"single {curve} (degC)"]) for row in rows]
            assert shown == pytest.approx(runs[at].tolist(), abs=1e-2)


@pytest.mark.parametrize(("system", "degrees"), [("us", "degF"), ("si", "degC")])
def test_the_seasons_table_adds_up(place: PlaceWeather, system: units.System, degrees: str) -> None:
    asked = ask(units=system, year="2010", curve="ends", base="40 degF")
    season = summed(asked, place)
    text = class_downloads.table(asked, place, "season")
    rows = read_table(text)
    assert list(rows[0]) == [
        "date",
        f"tmax ({degrees})",
        f"tmin ({degrees})",
        f"degree days of the day ({degrees} d)",
        f"sum ({degrees} d)",
        f"the simulator's own sum ({degrees} d)",
        "stage",
    ]
    assert [row["date"] for row in rows] == season.days.astype(str).tolist()
    total = np.cumsum([float(row[f"degree days of the day ({degrees} d)"]) for row in rows])
    sums = [float(row[f"sum ({degrees} d)"]) for row in rows]
    assert total.tolist() == pytest.approx(sums, abs=0.02)  # 224 days, each to 5e-5
    last = units.show(season.sums["ends", "horizontal"][-1], "thermal_time", system)
    assert sums[-1] == pytest.approx(last, abs=1e-4)
    recorded = place.record.sel(time=rows[9]["date"])
    for name in ("tmax", "tmin"):
        degree = units.show(float(recorded[name]), "temperature", system)
        assert float(rows[9][f"{name} ({degrees})"]) == pytest.approx(degree, abs=1e-4)
    told = {row["date"]: row["stage"] for row in rows if row["stage"]}
    assert ", ".join(told.values()).split(", ") == [stage.name for stage in season.stages]
    for stage in season.stages:
        assert stage.name in told[str(season.days[stage.at])]
    assert "# stand: rye sown on Oct 20 2010 at Tallow Bend (an invented place)\n" in text


def test_pictures_have_their_data_and_say_what_is_invented(place: PlaceWeather) -> None:
    asked = ask(year="2010", on="04-15", curve="triangle", cutoff="vertical", taken="2010-10-22")
    season = class_downloads.picture(asked, place, "season")
    told = " ".join([*season["title"]["text"], *season["title"]["subtitle"]])
    assert "Tallow Bend (an invented place)" in told
    found = summed(asked, place)
    at = found.at("04-15")
    assert str(found.days[at]) == "2011-04-15"
    for sums in (found.sums["triangle", "vertical"], found.own):
        assert f"{units.show(sums[at], 'thermal_time', 'us'):,.0f} °F d" in told
    assert len(season["datasets"]["sums"]) == found.days.size
    named = [
        one["above"] or one["under"]
        for one in season["datasets"]["stages"]
        if one["narrowest"] <= 690
    ]
    assert all((stage.name in named) != (f"{stage.name} on " in told) for stage in found.stages)
    day = class_downloads.picture(asked, place, "day")
    title = " ".join([*day["title"]["text"], *day["title"]["subtitle"]])
    assert "Oct 22 2010 at Tallow Bend (an invented place)" in title
    value = VALUES["triangle", "vertical"](asked_day(asked, place))
    assert f"{units.show(value, 'thermal_time', 'us'):.2f} °F d" in title


# crosses both; hotter than twice the span above the base for hours; hotter all day
SHADED = [(key, "2 10 28") for key in KEYS] + [
    ((curve, "intermediate"), limits)
    for curve in ("triangle", "sine")
    for limits in ("5 10 22", "12 10 17", "31 10 20")
]


@pytest.mark.analytic("the area that is shaded in the file's picture, by the trapezium rule")
@pytest.mark.parametrize(("key", "limits"), SHADED)
def test_what_the_file_shades_is_what_is_counted(
    key: tuple[str, str], limits: str, place: PlaceWeather
) -> None:
    tmin, base, upper = (f"{degrees} degC" for degrees in limits.split())
    asked = ask(
        units="si",
        curve=key[0],
        cutoff=key[1],
        tmax="40 degC",
        tmin=tmin,
        base=base,
        upper=upper,
    )
    made = class_downloads.picture(asked, place, "day")
    rows = next(rows for rows in made["datasets"].values() if "counted" in rows[0])
    hour, edge, foot, capped = (
        np.array([row[name] for row in rows]) for name in ("hour", "counted", "base", "capped")
    )

    def share(height: np.ndarray) -> float:
        return float(((height[1:] + height[:-1]) / 2 * np.diff(hour)).sum()) / 24.0

    assert (edge >= foot).all()
    # heights are written to three places
    assert share(edge - foot) == pytest.approx(VALUES[key](asked_day(asked, place)), abs=1e-3)
    if key[1] == "intermediate":
        held = VALUES[key[0], "horizontal"](asked_day(asked, place))
        assert share(capped - foot) == pytest.approx(held, abs=1e-3)


# ---- questions


def answers(day: Day, **chosen: str) -> dict[str, str]:
    method = {"curve": "sine", "cutoff": "horizontal", **chosen}
    return {one.question: " ".join(one.answer) for one in day_questions(day, system="si", **method)}


def test_answers_of_the_day_follow_the_day() -> None:
    crossing, above = answers(DAYS[0]), answers(DAYS[6])
    differ = next(question for question in crossing if "agree on this day" in question)
    assert "They do not" in crossing[differ]
    for curve in CURVES:
        assert f"{VALUES[curve, 'none'](DAYS[0]):.2f} °C d" in crossing[differ]
    assert "They agree: the day stays above the base of 4 °C" in above[differ]
    hours = "How many hours of the day are warmer than the base of {} °C?"
    assert "24 × (16 − 0) / (16 − (−6)) = 17.5" in crossing[hours.format(0)]
    assert "24.0 hours" in above[hours.format(4)]
    cut = {
        name: text
        for day in DAYS[:2]
        for name, text in answers(day).items()
        if "cutoff take" in name
    }
    nothing, some = cut.values()
    assert nothing.startswith("Nothing")
    assert f"{VALUES['sine', 'vertical'](DAYS[1]):.2f}" in some
    assert "31.0" not in some


@pytest.mark.analytic("the share of short steps of a day that lie above a threshold")
@pytest.mark.parametrize("day", DAYS)
def test_hours_above_the_base(day: Day) -> None:
    working = Working(day, "si")
    for curve in ("triangle", "sine"):
        share = float((air(curve, day) > day.base).mean())
        assert working.share_above(day.base, curve) == pytest.approx(share, abs=1e-4)


def test_answers_of_the_season_follow_the_season(place: PlaceWeather) -> None:
    told = []
    for year in ("1995", "2024"):
        season = summed(ask(year=year), place)
        found = {
            one.question: " ".join(one.answer)
            for one in season_questions(season, place, "ends", "none", "si")
        }
        up = next(text for question, text in found.items() if "come up" in question)
        stage = season.stages[0]
        assert f"{stage.at} days after sowing" in up
        assert ("waited for moisture" in up) == (stage.before > 129.3)
        assert (
            f"{season.sums['ends', 'none'][-1]:,.0f} °C d"
            in found[next(question for question in found if "come apart" in question)]
        )
        told.append(found)
    assert set(told[0].values()).isdisjoint(told[1].values())


def test_a_round_sum_is_passed_on_the_first_day_at_or_above_it(place: PlaceWeather) -> None:
    season = summed(ask(year="2010", base="40 degF"), place)
    question = next(
        one
        for one in season_questions(season, place, "sine", "none", "si")
        if "pass" in one.question
    )
    goal = float(re.search(r"pass ([\d,]+) °C d", question.question)[1].replace(",", ""))
    at = int(np.argmax(season.sums["mean", "none"] >= goal))
    assert season.sums["mean", "none"][at - 1] < goal
    day = season.days[at].item()
    assert f"average mean clamped on {day:%b} {day.day} {day.year}" in question.answer[0]


# ---- what is asked


def test_every_fault_is_named_at_once() -> None:
    found = faults(
        tmax="60",
        tmin="hot",
        base="40 lb",
        sow="13-40",
        curve="cube",
        year="20",
        units="metric",
        taken="soon",
        cereal="maize",
        smuggled="1",
    )
    assert set(found) == {
        "tmax",
        "tmin",
        "base",
        "sow",
        "curve",
        "year",
        "units",
        "taken",
        "cereal",
        "smuggled",
    }
    assert "has no unit" in found["tmax"]


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"tmax": "10 degF", "tmin": "20 degF"}, "tmax"),
        ({"base": "60 degF", "upper": "50 degF"}, "upper"),
        ({"curve": "mean", "cutoff": "vertical"}, "cutoff"),
        ({"tmax": "400 degF"}, "tmax"),
        ({"tmin": "nan degF"}, "tmin"),
        ({"on": "07-15"}, "on"),
        ({"sow": "06-01"}, "sow"),
    ],
)
def test_what_cannot_be_counted(given: dict[str, str], where: str) -> None:
    assert list(faults(**given)) == [where]


def test_a_day_is_taken_from_the_record(place: PlaceWeather) -> None:
    asked = ask(taken="2010-12-08")
    assert asked.taken == date(2010, 12, 8)
    shown = day_payload(asked, place)
    recorded = place.record.sel(time="2010-12-08")
    assert shown["shown"]["tmax"] == pytest.approx(1.8 * float(recorded["tmax"]) + 32, abs=0.005)
    assert shown["from"] == "Dec 8 2010 at Tallow Bend (an invented place)."
    with pytest.raises(InputError, match="does not have 1901-01-01"):
        day_payload(ask(taken="1901-01-01"), place)


def test_what_is_seen_first_sets_methods_and_lines_apart(place: PlaceWeather) -> None:
    for system in ("us", "si"):
        asked = ask(units=system)
        assert set(usual(system)) >= {"tmax", "tmin", "curve", "cutoff"}
        plain = [
            VALUES[curve, "none"](Day(asked.tmax, asked.tmin, asked.base, asked.upper))
            for curve in CURVES
        ]
        assert np.diff(np.sort(plain)).min() > 0.5, "each method counts otherwise"
        season = summed(asked, place)
        assert season.sums["sine", "horizontal"][-1] < 0.9 * season.own[-1]
        own = ask(units=system, **own_limits(system))
        assert (own.base, own.upper) == pytest.approx((counted.BASE, counted.UPPER))
    assert set(CUTOFFS) == {cutoff for _, cutoff in KEYS}


def test_the_routes(tmp_path: Path) -> None:
    app = make_app(8471, Visitors(tmp_path))

    async def visit() -> None:
        async with httpx.AsyncClient(
            transport=httpx.ASGITransport(app), base_url="http://127.0.0.1:8471"
        ) as client:
            page = await client.get("/class")
            assert page.status_code == 200
            assert 'href="/class" aria-current="page"' in page.text
            assert "unsafe-eval" not in page.headers["content-security-policy"]
            assert 'href="/class"' in (await client.get("/")).text
            for path in ("/class/day", "/class/season", "/class/picture"):
                assert (await client.get(path)).status_code == 200
                bad = await client.get(f"{path}?base=1")
                assert bad.status_code == 422
                assert bad.json()["problems"][0]["where"] == "base"
            for path, start in (
                ("day.csv", b"# made_by"),
                ("curve.csv", b"# made_by"),
                ("season.csv", b"# made_by"),
                ("picture/day.svg", b"<svg"),
                ("picture/season.png", b"\x89PNG"),
            ):
                taken = await client.get(f"/class/{path}?year=2010")
                assert taken.content.startswith(start)
                assert "attachment" in taken.headers["content-disposition"]
                assert (await client.get(f"/class/{path}?base=1")).status_code == 422
            for path in ("week.csv", "picture/day.gif", "picture/week.svg"):
                assert (await client.get(f"/class/{path}")).status_code == 404
            away = await client.get("/class/day?place=file-unknown&file=mine.csv")
            assert "Choose the file again" in away.json()["problems"][0]["remedy"]

    asyncio.run(visit())
