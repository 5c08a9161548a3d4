"""Colours that every eye and a printer without colour tell apart, and axes that hold still."""

from __future__ import annotations

import json
import re
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest

import simulator
from simulator.answers.compare import chart as sowing_chart
from simulator.answers.response.chart import by_rate
from simulator.answers.response.fates_chart import PLACES
from simulator.answers.risk import chart as risk_chart
from simulator.answers.risk import data as risk_data
from simulator.answers.risk.calculate import risk_in
from simulator.answers.season import chart as season_chart
from simulator.answers.season import panels as season_panels
from simulator.answers.season import stand_panels
from simulator.answers.season.rows import stages
from simulator.answers.shared import parameter_charts
from simulator.answers.timing import chart as timing_chart
from simulator.answers.whatif import chart as whatif_chart
from simulator.page import pictures
from simulator.show import charts, point_labels

APART = 20.0  # in CIELAB, of any two colours of series, for every kind of eye
APART_IN_GREY = 8.0  # in lightness L*
# Machado, Oliveira and Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15:1291-1298, severity 1.0
EYES = {
    "usual": np.eye(3),
    "protanopia": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                            [-0.003882, -0.048116, 1.051998]]),
    "deuteranopia": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                              [-0.011820, 0.042940, 0.968881]]),
    "tritanopia": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                            [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip
# IEC 61966-2-1: linear sRGB to XYZ under D65
TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)


def linear(colour: str) -> Any:
    parts = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def lab(rgb: Any) -> Any:
    """CIELAB (CIE 15) of linear sRGB."""
    ratio = TO_XYZ @ np.clip(rgb, 0.0, 1.0) / (TO_XYZ @ np.ones(3))
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def luminance(colour: str) -> float:
    return float(TO_XYZ[1] @ linear(colour))


@pytest.mark.analytic(
    "white, black and greys stay what they are: each row of a matrix adds up to 1"
)
@pytest.mark.parametrize("eye", EYES)
def test_greys_look_the_same_to_every_eye(eye: str) -> None:
    assert EYES[eye].sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.published(
    "CIE 15:2004: white is L* 100, a* 0, b* 0; sRGB red is L* 53.24, a* 80.09, b* 67.20 (D65)"
)
def test_the_measure_of_colour() -> None:
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=5e-3)
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=5e-3)


@pytest.mark.practice(
    "common practice, no source: 20 apart in CIELAB, seen through Machado et al. 2009's matrices"
)
@pytest.mark.parametrize("eye", EYES)
def test_any_two_colours_are_told_apart_by_every_eye(eye: str) -> None:
    seen = [lab(EYES[eye] @ linear(colour)) for colour in charts.COLOURS]
    nearest = min(float(np.linalg.norm(a - b)) for a, b in combinations(seen, 2))
    assert nearest >= APART


@pytest.mark.practice("common practice, no source: 8 apart in the lightness L* of CIE 15:2004")
@pytest.mark.parametrize(
    "colours",
    [charts.COLOURS, [colour for _, colour, _ in PLACES.values()]],
    ids=["lines", "where nitrogen ended"],
)
def test_any_two_colours_are_told_apart_in_grey(colours: tuple[str, ...]) -> None:
    greys = [116 * np.cbrt(luminance(colour)) - 16 for colour in colours]
    assert min(abs(a - b) for a, b in combinations(greys, 2)) >= APART_IN_GREY


@pytest.mark.published("WCAG 2.2, 1.4.3: letters have a contrast of 4.5 with what is behind them")
def test_letters_have_contrast() -> None:
    assert all(1.05 / (luminance(colour) + 0.05) >= 4.5 for colour in (charts.INK, charts.SOFT))


def test_series_differ_in_more_than_colour() -> None:
    names = [f"series {n}" for n in range(len(charts.COLOURS))]
    for also, channel in (("shapes", "shape"), ("dashes", "strokeDash")):
        made = charts.distinguish("name", names, **{also: True})
        looks = list(
            zip(*(made[one].to_dict()["scale"]["range"] for one in ("color", channel)), strict=True)
        )
        assert len({json.dumps(look) for look in looks}) == len(names)
    second = [charts.SHAPES, [tuple(dash) for dash in charts.DASHES]]
    assert all(len(set(each[:4])) == 4 for each in second)  # as many as there are sowings


def test_one_name_needs_no_legend() -> None:
    assert charts.distinguish("name", ["alone"], shapes=True)["shape"].to_dict()["legend"] is None


# --- axes that hold still, and titles from the numbers ---


@pytest.fixture(scope="module")
def record() -> Any:
    return simulator.sample_weather()


@pytest.fixture(scope="module")
def grids(record: Any) -> dict[str, Any]:
    asked: dict[str, Any] = {
        "sow": "10-20,12-08",
        "nitrogen": "0,60 lb/acre",
        "years": range(1995, 2000),
    }
    wet = simulator.compare(record, changes=["rain november = 11 inch"], **asked)
    return {"plain": simulator.compare(record, **asked), "wet": wet}


def domains(made: dict[str, Any], field: str) -> set[tuple[float, ...]]:
    """Return the domains of the vertical scales of a field, of a chart's definition."""
    found = set()

    def look(node: Any) -> None:
        if isinstance(node, dict):
            y = (
                node.get("encoding", {}).get("y")
                if isinstance(node.get("encoding"), dict)
                else None
            )
            if isinstance(y, dict) and str(y.get("field", "")).startswith(field):
                found.add(tuple(y.get("scale", {}).get("domain", ())))
            for key, value in node.items():
                if key != "datasets":
                    look(value)
        elif isinstance(node, list):
            for value in node:
                look(value)

    look(made)
    return found


def test_axes_are_held_still(record: Any, grids: dict[str, Any]) -> None:
    still: charts.Axes = {"biomass": (0.0, 9000.0), "leached": (0.0, 150.0)}
    days = simulator.run_season(record, simulator.Plan(), year=2003)
    changed = whatif_chart.chart(grids["wet"], "us", axes=still).to_dict()
    for drawn in (
        season_chart.chart(days, "us", weather=record, axes=still).to_dict(),
        changed,
        sowing_chart.by_year(
            sowing_chart.year_rows(grids["plain"], "us"), "us", axes=still
        ).to_dict(),
    ):
        assert domains(drawn, "biomass") == {(0.0, 9000.0)}
    assert domains(changed, "leached") == {(0.0, 150.0)}


def test_before_and_after_share_their_axes(grids: dict[str, Any]) -> None:
    drawn = whatif_chart.chart(grids["wet"], "si").to_dict()
    for name, field in (("biomass", "biomass_kg_ha"), ("leached", "nitrate_leached_kg_ha")):
        (only,) = domains(drawn, name)
        means = grids["wet"][field].mean("year")
        assert only[0] == 0.0 and only[1] >= float(means.max())


def test_titles_follow_the_numbers(grids: dict[str, Any]) -> None:
    grid = grids["plain"].copy()
    (before,), _ = sowing_chart.headline(grid, "si")
    assert before.startswith("Rye sown Dec 8 makes ") and " less than sown Oct 20" in before
    grid["biomass_kg_ha"] = grid["biomass_kg_ha"] * (1 + 9 * (grid["sow"] == "12-08"))
    (after,), _ = sowing_chart.headline(grid, "si")
    assert after.startswith("Rye sown Dec 8 makes ")
    assert after.endswith(" more than sown Oct 20, and more in 5 of 5 falls")

    wet = grids["wet"].copy()
    (before,), _ = whatif_chart.headline(wet, "si")
    fed = (wet["nitrogen"] > 0) & (wet["case"] == "changed")
    wet["biomass_kg_ha"] = wet["biomass_kg_ha"] + xr_where(fed, 1000.0)
    (after,), _ = whatif_chart.headline(wet, "si")
    first, then = (
        int(text.split(" makes ")[1].split()[0].replace(",", "")) * (-1 if "less" in text else 1)
        for text in (before, after)
    )
    assert then - first == pytest.approx(1000, abs=10)


def test_what_titles_tell_is_drawn(grids: dict[str, Any], record: Any) -> None:
    drawn = sowing_chart.chart(grids["plain"], "us").to_dict()
    assert _figure(drawn) in _told(drawn)
    held = simulator.compare(
        record,
        sow="10-20,12-08",
        nitrogen="0,60 lb/acre",
        nitrogen_timing="sowing,02-15",
        years=range(1995, 1998),
        changes=["rain november = 11 inch"],
    )
    drawn = whatif_chart.chart(held, "us").to_dict()
    assert _figure(drawn) in _told(drawn)
    biomass, leached, by_sowing = drawn["vconcat"]
    for row in (biomass, leached):  # as recorded, as changed, and the difference
        assert len(row["hconcat"]) == 3
        told = json.dumps(row)
        assert all(text in told for text in ('"weather as recorded"', '"weather changed"'))
    assert "difference in biomass with 60 lb" in json.dumps(by_sowing)


def _figure(drawn: dict[str, Any]) -> str:
    """Return the first difference that a title tells, signed as a figure is."""
    title = " ".join(drawn["title"]["text"])
    found = re.search(r" makes ([\d,]+) lb/ac (less|more)", title)
    assert found, title
    return f"{'-' if found[2] == 'less' else '+'}{found[1]}"


def _told(drawn: dict[str, Any]) -> set[str]:
    return {row["told"] for rows in drawn["datasets"].values() for row in rows if "told" in row}


def xr_where(condition: Any, amount: float) -> Any:
    return condition.astype(float) * amount


def test_a_season_that_died_says_so(record: Any) -> None:
    days = simulator.run_season(record, simulator.Plan(), year=2003)
    days["stand_alive"][-1] = 0.0
    (told,), _ = season_chart.headline(days, "us")
    assert "does not live on Apr 15" in told


@pytest.fixture(scope="module")
def colder(record: Any) -> tuple[Any, Any]:
    changed = simulator.change_weather(record, "temperature oct..mar - 5 degF")
    seasons = [
        (simulator.run_season(weather, simulator.Plan(), year=2003), weather)
        for weather in (record, changed)
    ]
    return seasons[0], seasons[1]


def panels_of(chart: Any) -> list[tuple[Any, list[tuple[str, Any]]]]:
    """Return each panel's title, and each layer's mark and what it draws along which axis."""
    return [
        (
            panel["title"],
            [
                (layer["mark"]["type"], layer["encoding"]["y"].get("field"))
                for layer in panel["layer"]
                if layer["encoding"].get("y", {}).get("field") and layer["mark"]["type"] != "area"
            ],
        )
        for panel in chart.to_dict()["vconcat"]
    ]


def test_the_page_and_the_command_draw_the_same_panels(colder: tuple[Any, Any]) -> None:
    tops = dict.fromkeys(("biomass", "water", "nitrogen", "hottest", "coldest"), 1.0)
    command = panels_of(season_chart.before_and_after(*colder, "us"))
    page = panels_of(pictures.season_picture("us", tops))
    assert command[1:] == page[1:]
    # the page's growth has each fall and the names of lines besides, the command's what was done
    assert set(command[0][1]) <= set(page[0][1])


def test_a_dash_tells_a_series_and_a_thin_line_the_second_quantity(
    colder: tuple[Any, Any],
) -> None:
    made = season_chart.before_and_after(*colder, "us").to_dict()
    lines = [
        [layer for layer in panel["layer"] if layer["mark"]["type"] == "line"]
        for panel in made["vconcat"]
    ]
    assert [len(panel) for panel in lines] == [1, 0, 2, 2, 1]  # stages are points
    for panel in lines:
        assert all(line["encoding"]["strokeDash"]["field"] == "series" for line in panel)
        assert not any("strokeDash" in line["mark"] for line in panel)
        widths = [line["mark"]["strokeWidth"] for line in panel]
        assert widths == sorted(set(widths), reverse=True)


def test_before_stands_beside_after_with_their_numbers(colder: tuple[Any, Any]) -> None:
    (before, _), (after, _) = colder
    made = season_chart.before_and_after(*colder, "si").to_dict()
    (stand,) = [
        rows
        for rows in made["datasets"].values()
        if "biomass" in rows[0] and len(rows) == 2 * before.sizes["time"]
    ]
    for series, days in (("recorded", before), ("changed", after)):
        last = [row["biomass"] for row in stand if row["series"] == series][-1]
        assert last == pytest.approx(float(days["biomass_kg_ha"][-1]), rel=1e-4)
    (told,), _ = season_chart.changed_headline(before, after, "si")
    for days in (before, after):
        assert f"{round(float(days['biomass_kg_ha'][-1]), -1):,.0f}" in told
    dead = after.copy(deep=True)
    dead["stand_alive"][-1] = 0.0
    (told,), _ = season_chart.changed_headline(before, dead, "si")
    assert "does not live on Apr 15" in told


@pytest.mark.analytic("means of a made-up list, by hand")
def test_the_mean_of_a_week_leaves_out_what_is_not_known() -> None:
    low = np.array([0.0, 2.0, np.nan, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0])
    found = season_panels.week_mean(low, low + 2.0)
    assert found[0] == pytest.approx(1.0 + (0 + 2 + 4) / 3)  # the day itself and three after it
    assert found[4] == pytest.approx(1.0 + (2 + 4 + 6 + 8 + 10 + 12) / 6)
    assert np.isnan(season_panels.week_mean(np.full(3, np.nan), np.zeros(3))).all()


def test_nitrate_by_depth_is_drawn_where_there_is_any(record: Any) -> None:
    days = simulator.run_season(record, simulator.Plan(), year=2003)
    made = season_chart.chart(days, "si").to_dict()
    tiles = next(rows for rows in made["datasets"].values() if "top" in rows[0])
    assert {row["bottom"] for row in tiles} == set(days["bottom_cm"].values)
    assert "in each 10 cm (kg/ha)" in json.dumps(made)
    first = days["nitrate_by_layer_kg_ha"].values[0]  # the top six layers are 10 cm, then 20
    shown = {row["top"]: row["amount"] for row in tiles if row["day"] == tiles[0]["day"]}
    assert shown[0.0] == pytest.approx(first[0], abs=1e-3)
    assert shown[60.0] == pytest.approx(first[6] / 2, abs=1e-3)
    without = season_chart.chart(days.drop_dims("layer"), "si").to_dict()
    assert "in each 10 cm" not in json.dumps(without)


def test_every_stage_that_is_reached_has_its_row_and_its_date(record: Any) -> None:
    # sown in December without nitrogen, in a fall that gave it no tiller
    days = simulator.run_season(record, simulator.Plan(sow="12-08"), year=2003)
    stage, names = days["growth_stage_zadoks"].values, dict(season_panels.STAGES)
    made = season_chart.chart(days, "us", weather=record).to_dict()
    (panel,) = [one for one in made["vconcat"] if one.get("title") == "stages"]
    rows = panel["layer"][0]["encoding"]["y"]["scale"]["domain"]
    assert rows == list(names.values())[::-1]
    marks = made["datasets"][panel["data"]["name"]]
    was_in = [
        least for least in names if ((stage >= least) & (stage < 10 * (least // 10 + 1))).any()
    ]
    assert [one["stage"] for one in marks] == [names[least] for least in was_in]
    assert 21 not in was_in, "it joints before it has a tiller"
    for one, least in zip(marks, was_in, strict=True):
        first = days["time"].values[int(np.argmax(stage >= least))].astype("datetime64[D]").item()
        assert one["before"] + one["after"] == f"{first:%b} {first.day}"
    early = simulator.run_season(record, simulator.Plan(sow="09-03"), year=2003)
    (up, *_) = stages(early, [{}] * early.sizes["time"])
    assert up["after"].startswith("Sep ") and not up["before"], "or it would hide the names"


def test_names_beside_points_have_room_at_every_width() -> None:
    made_up = np.random.default_rng(4)
    words = ["emergence", "tillering", "jointing", "boot", "heading", "flowering", "grain fill"]
    for _ in range(200):
        places = np.sort(made_up.uniform(0.0, 1.0, len(words))).tolist()
        found = point_labels.beside(places, words, 14.0, first=["jointing"])
        assert {row["above"] or row["under"] for row in found} == set(words)
        for width in (150, 250, 400, 690, 1200):
            shown = [
                (place * width, row)
                for place, row in zip(places, found, strict=True)
                if row["narrowest"] <= width
            ]
            letters = {word: 14.0 * point_labels.LETTER * len(word) for word in words}
            above = [
                (x - point_labels.ASIDE - letters[row["above"]], x)
                for x, row in shown
                if row["above"]
            ]
            under = [
                (x, x + point_labels.ASIDE + letters[row["under"]])
                for x, row in shown
                if row["under"]
            ]
            assert all(low >= -1e-9 and high <= width + 1e-9 for low, high in above + under)
            for side in (above, under):
                assert all(a[1] <= b[0] + point_labels.ASIDE for a, b in pairwise(side))


def test_weekly_water_adds_up_to_the_seasons(record: Any) -> None:
    days = simulator.run_season(record, simulator.Plan(), year=2003)
    made = stand_panels.rain_and_drainage(days, "si").to_dict()
    (rows,) = made["datasets"].values()
    for what, field in (("rain and snow", "rain_mm"), ("drained", "drainage_mm")):
        total = sum(row["water"] for row in rows if row["what"] == what)
        assert total == pytest.approx(float(days[field][-1]), abs=0.05)
    widths = {row["what"]: row["until"] - row["day"] for row in rows}
    assert widths["drained"] < 0.6 * widths["rain and snow"]  # it hides no rain behind it


def test_panels_of_risk_stand_in_the_order_of_their_rates(record: Any) -> None:
    grid = simulator.compare(
        record, sow="10-20", years=range(1995, 2001), nitrogen="0,30,90 lb/acre"
    )
    found = risk_in(grid, target=4000.0)
    made = risk_chart.chart([found], "si").to_dict(validate=False)
    told = [f"{rate} kg/ha of nitrogen" for rate in (0, 34, 101)]  # by letters 101 comes first
    assert made["vconcat"][0]["facet"]["sort"] == told


def test_the_chances_interval_is_a_band(record: Any) -> None:
    plans = {"sow": "10-20,12-08", "nitrogen": "60 lb/acre"}
    grid = simulator.compare(record, **plans, years=range(1995, 2007))
    found = risk_in(grid, target=4000.0)
    made = risk_chart.chart([found], "us").to_dict(validate=False)
    band = made["vconcat"][0]["spec"]["layer"][0]
    assert band["mark"]["type"] == "area"
    assert (band["encoding"]["y"]["field"], band["encoding"]["y2"]["field"]) == ("low", "high")
    rows = risk_data.sowing_rows(found, "us")
    assert all(row["low"] <= row["alone"] <= row["high"] for row in rows)
    title = " ".join(made["title"]["text"])
    assert all(f"{row['told']} percent sown {row['sown']}" in title for row in rows)
    often = risk_chart.how_often(
        [{**row, "label": row["sown"], "y": row["chance"]} for row in rows], 80
    )
    interval, *_ = often.to_dict(validate=False)["layer"]
    assert (interval["mark"]["type"], interval["encoding"]["x2"]["field"]) == ("bar", "high")


def test_a_share_below_nothing_stays_off_the_names() -> None:
    row = {
        "site": "here",
        "outcome": "biomass",
        "parameter": "leaf_life",
        "first": -0.2,
        "total": 0.1,
        "total_low": 0.0,
        "total_high": 0.3,
    }
    made = parameter_charts.sensitivity_chart([row], ["title"], [])
    (panel,) = made.to_dict()["vconcat"][0]["hconcat"]
    lows = {layer["encoding"]["x"]["scale"]["domain"][0] for layer in panel["layer"]}
    assert lows == {-20.0}


def test_a_single_rate_stands_sowings_beside_each_other(record: Any) -> None:
    grid = simulator.compare(
        record,
        sow="10-20,12-08",
        nitrogen="60 lb/acre",
        years=[2003, 2004],
        changes=["rain november = 11 inch"],
    )
    made = json.dumps(whatif_chart.chart(grid, "us").to_dict())
    assert '"field": "line", "sort": ["Oct 20", "Dec 8"]' in made


def test_lines_join_points_where_there_is_no_curve() -> None:
    points = [
        {"line": "Oct 20", "nitrogen": x, "biomass": 10 * x, "low": 0.0, "high": 20 * x}
        for x in (0.0, 30.0, 60.0)
    ]
    made = by_rate(points, "us").to_dict()
    drawn = [made["datasets"][layer["data"]["name"]] for layer in made["layer"]]
    assert [row["biomass"] for row in drawn[1]] == [0.0, 300.0, 600.0]


def test_titles_never_break_a_number_from_its_unit() -> None:
    texts = [f"{'x' * n} sown on Oct 20 with 1,234 lb/ac of seed" for n in range(1, 40)]
    for lines in (charts._broken([text], 30) for text in texts):
        assert not any(line.endswith(("1,234", "Oct")) for line in lines)
        assert "\u00a0" not in "".join(lines)
    texts = [f"{'x' * n} makes 2,510 to 10,760 lb/ac in 8 of 10 falls" for n in range(1, 40)]
    for lines in (charts._broken([text], 36) for text in texts):
        assert not any(line.endswith((" to", " of", "2,510", " 8")) for line in lines)


def test_the_kill_by_rolling_runs_to_a_hundred(record: Any) -> None:
    from simulator.answers.timing.calculate import timing
    from simulator.parameters.soils import soil

    grid = simulator.compare(
        record, sow="10-20", nitrogen="30 lb/acre", end="03-15,04-15", years=range(1995, 2000)
    )
    one = grid.isel(sow=0, seeding=0, nitrogen=0, nitrogen_timing=0)
    found = timing(one, soil("sandy loam"))
    found.attrs.update(
        sow="10-20", seeding_kg_ha=100.0, nitrogen_kg_ha=34.0, nitrogen_timing="sowing"
    )
    assert domains(timing_chart.chart(found, "us").to_dict(), "rolled") == {(0.0, 100.0)}


def test_a_time_of_nitrogen_that_is_asked_for_is_drawn_alone(record: Any) -> None:
    def lines(**asked: str) -> set[str]:
        plan = {"years": "2003,2004", "sow": "10-20,12-08", "nitrogen": "0,60 lb/acre"}
        made = simulator.whatif(record, **plan, **asked).chart().to_dict()
        return {row["line"] for rows in made["datasets"].values() for row in rows if "line" in row}

    assert lines() == {"at sowing", "on Feb 15"}
    assert lines(nitrogen_timing="sowing") == {"Oct 20", "Dec 8"}
