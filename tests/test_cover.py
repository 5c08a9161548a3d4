"""What residue comes to: days of cover, weeks of nitrogen, weeds; the command and its sentences."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result

from simulator import sample_weather
from simulator.answers.cover import chart as cover_chart
from simulator.answers.cover import in_fields
from simulator.answers.cover.calculate import HEAVY, Cover, by_fall, cover, weekly_nitrogen
from simulator.answers.cover.data import QUANTITIES, chart_rows, falls_json
from simulator.answers.cover.on_day import days_after, green_cover, is_green, on_day
from simulator.answers.cover.table import tables
from simulator.answers.cover.words import sentences
from simulator.commands import fallsown
from simulator.parameters import describe
from simulator.parameters.cereals import cereal
from simulator.parameters.model_error import SHIPPED
from simulator.parameters.residues import LIES
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.residue_decay import STARTS, follow


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["cover", *arguments])


@pytest.fixture(scope="module")
def record() -> xr.Dataset:
    return sample_weather()


@pytest.fixture(scope="module")
def stands(record: xr.Dataset) -> xr.Dataset:
    grid = compare(
        record, sow=["10-20", "12-08"], nitrogen="30 lb/acre", end="04-15", years=range(2012, 2025)
    )
    made = grid.isel(seeding=0, nitrogen=0, nitrogen_timing=0, end=0)
    made.attrs.update(seeding_kg_ha=100.0, nitrogen_kg_ha=33.6, nitrogen_timing="sowing")
    return made


@pytest.fixture(scope="module")
def found(record: xr.Dataset, stands: xr.Dataset) -> Cover:
    return cover(stands, follow(record, stands))


def changed(found: Cover, **values: object) -> Cover:
    """The same residue with other numbers after termination, day by day or for all days."""
    residue = found.residue.copy(deep=True)
    for name, value in values.items():
        residue[name][:] = value
    by_day = found.by_day.copy(deep=True)
    for name in values:
        by_day[name][:] = residue[name].mean("year")
    return replace(found, residue=residue, by_day=by_day, falls=by_fall(residue))


# what it comes to


@pytest.mark.analytic("days counted by hand on a straight line of cover")
def test_days_above_are_counted(found: Cover) -> None:
    line = np.linspace(1.0, 0.0, found.days + 1)  # from 1 to 0 over 365 days
    mass = np.linspace(10000.0, 0.0, found.days + 1)
    falls = changed(
        found, ground_covered=line, ground_residue_kg_ha=mass, shoot_residue_kg_ha=mass
    ).falls.isel(year=0, sow=0, residue=0)
    assert falls["days_above_90"].item() == 36  # 0.1 x 365, whole days
    assert falls["days_above_60"].item() == 146
    assert falls["days_above_30"].item() == 255
    assert falls["days_heavy"].item() == 73
    assert falls["days_to_half"].item() == 183
    assert not falls["above_30_at_last"].item()


def test_cover_that_outlasts_the_weather_is_told_as_at_least(found: Cover) -> None:
    lasting = changed(found, ground_covered=0.95)
    assert lasting.falls["above_90_at_last"].all()
    assert "at least 365 days" in " ".join(sentences(lasting, "us"))
    assert "\u2265365" in tables(lasting, "us")[2]
    gone = changed(found, ground_covered=np.where(np.arange(366) < 50, 0.95, 0.1))
    told = " ".join(sentences(gone, "us"))
    assert "above 60 percent for 49 days (49 to 49)" in told and "at least" not in told


def test_weeks_add_up_to_the_whole(found: Cover) -> None:
    weekly = weekly_nitrogen(found.by_day)
    assert weekly.sizes["week"] == 52
    whole = found.by_day["nitrogen_released_kg_ha"].sel(day=364)
    np.testing.assert_allclose(weekly.sum("week").values, whole.values, rtol=1e-9, atol=1e-9)


def test_a_fall_whose_weather_ends_early_counts_in_no_mean(found: Cover) -> None:
    assert found.residue["year"].values.tolist() == list(range(2012, 2024))
    assert len(found.left_out) == 1 and found.left_out[0].startswith("2024: the weather ends")
    assert found.ends_early == ""
    assert not found.by_day["ground_covered"].isnull().any()


def test_weather_that_ends_early_in_most_falls_is_used_as_far_as_it_goes(
    record: xr.Dataset, stands: xr.Dataset
) -> None:
    one = stands.sel(year=[2015])
    short = record.sel(time=slice(None, "2016-05-30"))
    made = cover(one, follow(short, one))
    assert made.days == 45
    assert "ends 45 days after 04-15, of 365 asked for" in made.ends_early
    with pytest.raises(InputError, match="ends 3 days after 04-15: too few"):
        cover(one, follow(record.sel(time=slice(None, "2016-04-18")), one))


def test_early_sowing_covers_more_and_longer(found: Cover) -> None:
    early, late = (
        found.by_day["ground_covered"].sel(sow=sow, residue="rolled").values
        for sow in ("10-20", "12-08")
    )
    assert (early > late).all()


# sentences change with their numbers


def test_sentences_of_nitrogen_follow_the_numbers(found: Cover) -> None:
    day = np.arange(366.0)
    free = changed(found, nitrogen_released_kg_ha=0.2 * day)
    told = " ".join(sentences(free, "si"))
    assert "sets nitrogen free: 6 kg/ha in the first four weeks, 73 kg/ha by day 365" in told
    tied = changed(found, nitrogen_released_kg_ha=-0.1 * day)
    told = " ".join(sentences(tied, "si"))
    assert "ties up nitrogen, 6 kg/ha in the first eight weeks and 36 kg/ha by day 365" in told
    turned = changed(found, nitrogen_released_kg_ha=np.where(day < 100, -0.2 * day, 0.1 * day - 30))
    told = " ".join(sentences(turned, "si"))
    assert "at most 20 kg/ha around week 15" in told
    assert "and then gives it back: 6 kg/ha are set free by day 365" in told
    even = changed(found, nitrogen_released_kg_ha=np.minimum(-0.2 + np.abs(day - 182) / 9 - 20, 0))
    told = " ".join(sentences(even, "si"))
    assert "and then gives it back: all of it is back by day 365" in told
    assert "neither gives nor takes" in " ".join(
        sentences(changed(found, nitrogen_released_kg_ha=0.0), "si")
    )


def test_sentences_of_weeds_follow_the_mass(found: Cover) -> None:
    heavy = np.where(np.arange(366) <= 30, 100.0 * HEAVY, 1.0)
    told = " ".join(sentences(changed(found, ground_residue_kg_ha=heavy), "si"))
    chance, days = in_fields.heavy(heavy[None, 1:], HEAVY, np.array([5000.0]), found.errors)
    assert chance > 0.9 and days == 30.0
    assert "percent, then for 30 days as a mean" in told
    told = " ".join(sentences(changed(found, ground_residue_kg_ha=10.0), "si"))
    assert "the Oct 20 sowing hardly ever has that" in told


@pytest.mark.analytic("a chance that is smooth in the mass has no cliff at the rule of thumb")
def test_the_chance_of_heavy_residue_has_no_cliff(found: Cover) -> None:
    biomass = np.array([9000.0])
    below, above = (
        in_fields.heavy(np.full((1, 90), HEAVY + off), HEAVY, biomass, found.errors)[0]
        for off in (-400.0, 400.0)
    )
    assert 0.2 < below < 0.5 < above < 0.8


# in a field like these


@pytest.mark.analytic("decay is in proportion to mass: half as much grown is half as much later")
def test_a_field_s_residue_is_that_of_the_model_times_its_biomass(
    record: xr.Dataset, stands: xr.Dataset, found: Cover
) -> None:
    half = stands.copy(deep=True)
    for name in STARTS:
        half[name][:] = 0.5 * half[name]
    grown = follow(record, half, residue=["standing", "rolled"]).sel(year=found.residue["year"])
    whole = found.residue.sel(residue=["standing", "rolled"])
    scaled = in_fields.covered_by(0.5 * in_fields.thickness(whole["ground_covered"].values))
    np.testing.assert_allclose(grown["ground_covered"].values, scaled, rtol=1e-9)
    np.testing.assert_allclose(
        grown["shoot_residue_kg_ha"].values, 0.5 * whole["shoot_residue_kg_ha"].values, rtol=1e-9
    )


@pytest.mark.analytic("the cover of each field counted day by day, by hand")
def test_days_in_fields_are_counted(found: Cover) -> None:
    covered = found.residue["ground_covered"].sel(sow="10-20", residue="standing")
    later = covered.isel(day=slice(1, None)).values
    biomass = found.biomass("10-20")
    times = in_fields.times_simulated(biomass, found.errors)
    days = [
        (in_fields.covered_by(in_fields.thickness(later[fall]) * one) >= 0.6).sum()
        for fall in range(len(biomass))
        for one in times[fall]
    ]
    ranges = found.days_ranges("10-20", "standing", 0.60)
    assert (ranges.low, ranges.high) == tuple(np.quantile(days, [0.1, 0.9]))
    assert ranges.low <= ranges.weather_low and ranges.high >= ranges.weather_high


@pytest.mark.analytic("multiples of what is simulated give back the level's own fields")
def test_fields_have_the_error_of_levels(found: Cover) -> None:
    biomass = np.array([0.0, 300.0, 5000.0])
    times = in_fields.times_simulated(biomass, found.errors)
    made = found.errors.level.in_fields(biomass, in_fields.NUMBER)
    np.testing.assert_allclose(times[1:] * biomass[1:, None], made[1:], rtol=1e-12)
    assert (times[0] == 1.0).all()  # of nothing there is no multiple


def test_the_plain_range_holds_weather_and_field(found: Cover) -> None:
    rolled = found.by_day.sel(residue="rolled").isel(day=60)
    assert (rolled["ground_covered_low"] < rolled["weather_ground_covered_low"]).all()
    assert (rolled["ground_covered_high"] > rolled["weather_ground_covered_high"]).all()
    exact = replace(SHIPPED, level=replace(SHIPPED.level, offset=1e-9, **NO_ERROR))
    alone = cover(found.stands, found.residue, exact).by_day.sel(residue="rolled").isel(day=60)
    for end in ("low", "high"):  # without an error of the field, that of the weather is left
        np.testing.assert_allclose(
            alone[f"ground_covered_{end}"], alone[f"weather_ground_covered_{end}"], atol=0.02
        )
    told = " ".join(sentences(found, "us"))
    assert "in a field like these" in told and "was off by" in tables(found, "us")[3]


NO_ERROR = {f"within_{tenth}0": 0.0 for tenth in range(1, 10)}


# on days of the calendar


@pytest.mark.analytic("days of the calendar, counted with Python's own")
@pytest.mark.parametrize(
    ("end", "on"), [("04-15", "07-10"), ("02-15", "07-10"), ("04-15", "03-10"), ("04-15", "04-15")]
)
def test_days_from_the_end_to_a_date(end: str, on: str) -> None:
    years = [2010, 2011, 2012]  # 2012 is a leap year
    found = days_after(years, end, on)
    for year, days in zip(years, found, strict=True):
        ended = date.fromisoformat(f"{year + 1}-{end}")
        later = date.fromisoformat(f"{year + (1 if on >= end else 2)}-{on}")
        assert days == (later - ended).days


def test_residue_on_a_day_is_that_of_the_day(found: Cover) -> None:
    one = on_day(found.residue, "07-10")
    assert one is not None
    np.testing.assert_array_equal(
        one.after["ground_covered"].transpose("year", "sow", "residue").values,
        found.residue["ground_covered"].isel(day=86).transpose("year", "sow", "residue").values,
    )
    told = replace(found, on=(one,))
    said = " ".join(sentences(changed(told, shoot_residue_kg_ha=1.0), "si"))
    assert "On Jul 10 residue that was rolled covers" in said
    assert "On Jul 10, 86 days after the end:" in tables(told, "us")
    assert on_day(found.residue.isel(day=slice(0, 60)), "07-10") is None


@pytest.mark.analytic("1 - exp(-k L), by hand")
def test_green_leaves_cover_as_they_take_light() -> None:
    area = np.array([0.0, 1.0, 3.0])
    np.testing.assert_allclose(green_cover(area, 0.6), 1.0 - np.exp(-0.6 * area), rtol=1e-12)
    assert is_green("01-15", ["10-20"], "04-15") and not is_green("07-10", ["10-20"], "04-15")
    assert not is_green("10-01", ["10-20"], "04-15") and not is_green("04-15", ["10-20"], "04-15")


def test_sentences_of_soil_loss_follow_the_ratio(found: Cover) -> None:
    told = " ".join(sentences(changed(found, soil_loss_ratio=0.25), "us"))
    assert "25 percent under the Oct 20 sowing and 25 percent under the Dec 8 sowing" in told


def test_tables_do_not_mix_units(found: Cover) -> None:
    us, si = ("\n".join(tables(found, system)) for system in ("us", "si"))
    assert "lb/ac" in us and "kg/ha" not in us
    assert "kg/ha" in si and "lb/ac" not in si


def test_each_fall_is_told_in_json(found: Cover) -> None:
    rows = falls_json(found)
    assert len(rows) == 12 * 2 * 4
    assert {
        "year",
        "sow",
        "residue",
        "days_above_30",
        "days_above_60",
        "days_above_90",
        "days_heavy",
        "days_to_half",
    } <= set(rows[0])
    assert len(rows[0]["nitrogen_by_week_kg_ha"]) == 52
    json.dumps(rows, allow_nan=False)


def test_ways_to_lie_stand_in_the_docs() -> None:
    page = (Path(__file__).resolve().parents[1] / "docs" / "model.md").read_text(encoding="utf-8")
    assert describe.describe(LIES) in page


# the command


def test_it_answers_without_options() -> None:
    result = run()
    assert result.exit_code == 0, result.output
    told = " ".join(result.output.split())
    for text in (
        "invented place",
        "followed for 365 days",
        "Over the first 60 days",
        "cover alone",
        "small weeds",
        "2024: the weather ends",
        "licensed advice",
        "On May 15, when the next crop is planted,",
        "taken to be planted on May 15 (--planting takes another day)",
        "On Jan 1 green leaves cover",
        "in a field like these",
    ):
        assert text in told, text


def test_rows_are_laid_out_only_for_who_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Cover) -> list[dict[str, object]]:
        raise AssertionError

    for name in ("falls_json", "days_json", "green_json"):
        monkeypatch.setattr(f"simulator.answers.cover.data.{name}", refuse)
    assert run("--years", "2015", "--days", "30").exit_code == 0
    assert run("--years", "2015", "--days", "30", "--json").exit_code == 1


def test_json_has_a_row_a_day() -> None:
    result = run("--json", "--years", "2015:2017", "--residue", "rolled", "--days", "60")
    assert result.exit_code == 0, result.output
    answer = json.loads(result.output)
    assert len(answer["rows"]) == 2 * 61
    row = answer["rows"][0]
    assert {
        "site",
        "cereal",
        "soil",
        "sow",
        "residue",
        "day",
        "shoot_residue_kg_ha",
        "root_residue_kg_ha",
        "ground_covered",
        "ground_covered_low",
        "weather_ground_covered_low",
        "soil_loss_ratio",
        "nitrogen_released_kg_ha",
    } <= set(row)
    assert answer["units"]["ground_covered"] == "1"
    assert answer["inputs"]["year"] == [2015, 2016, 2017]
    assert len(answer["falls"]) == 3 * 2


def test_a_date_is_asked_for_before_and_after_the_end() -> None:
    asked = ("--years", "2010:2012", "--residue", "rolled", "--on", "02-15,7-10", "--days", "100")
    answer = json.loads(run("--json", *asked, "--planting", "05-01").output)
    assert {row["date"] for row in answer["on_days"]} == {"05-01", "07-10"}
    soil = [row["planting_nitrate_kg_ha"] for row in answer["on_days"] if row["date"] == "05-01"]
    assert len(soil) == 6 and all(value > 0.0 for value in soil)
    green = [row for row in answer["green"] if row["date"] == "02-15"]
    grid = compare(
        sample_weather(), sow="10-20", nitrogen="30 lb/acre", end="02-15", years=range(2010, 2013)
    ).squeeze()
    for row in green:
        if row["sow"] == "10-20":
            area = float(grid["leaf_area_index"].sel(year=row["year"]))
            share = 1.0 - np.exp(-cereal("rye").extinction * area)
            assert row["green_cover"] == pytest.approx(share, rel=1e-9)
    assert answer["ranges"][0]["days_above_60_low_d"] <= answer["ranges"][0]["days_above_60_high_d"]
    told = " ".join(run(*asked).output.split())
    assert "On Feb 15 green leaves cover" in told and "On Jul 10 residue" in told
    late = " ".join(run(*asked, "--on", "12-25").output.split())
    assert "Nothing is said for Jul 10" not in late


def test_a_day_after_what_is_followed_is_told() -> None:
    told = run("--years", "2010", "--residue", "rolled", "--on", "08-10", "--days", "40").output
    assert "Nothing is said for Aug 10: residue is followed for 40 days." in " ".join(told.split())


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--on", "13-40"], "13-40"),
        (["--planting", "04-01"], "comes before the end on 04-15"),
        (["--planting", "07-10"], "after the season"),
        (["--residue", "mulched", "--end", "zadoks 61"], "2 problems"),
        (["--residue", "rolled,rolled"], "given twice"),
        (["--days", "400"], "400 days cannot be followed"),
        (["--days", "3"], "3 days cannot be followed"),
        (["--nitrogen", "0,30 lb/acre"], "several values"),
        (["--chart", "cover.gif"], "does not end in"),
    ],
)
def test_what_cannot_be_answered_is_refused(options: list[str], said: str) -> None:
    result = run(*options)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_files_are_written(tmp_path: Path) -> None:
    out, chart = tmp_path / "cover.nc", tmp_path / "cover.svg"
    result = run("--out", str(out), "--chart", str(chart), "--years", "2015", "--days", "90")
    assert result.exit_code == 0, result.output
    with xr.open_dataset(out) as written:
        assert written["ground_covered"].attrs["units"] == "1"
        assert dict(written.sizes) == {"sow": 2, "residue": 4, "day": 91}
    drawn = chart.read_text(encoding="utf-8")
    assert "<svg" in drawn and "Oct 20" in drawn and "Dec 8" in drawn


def test_real_winters_that_end_in_april(open_data: Path) -> None:
    weather = open_data / "weather" / "headland_winters_2005_2007.csv"
    place = ("--weather", str(weather), "--latitude", "31.35", "--sow", "11-05")
    result = run(*place)
    assert result.exit_code == 0, result.output
    told = " ".join(result.output.split())
    assert "followed for 15 days" in told and "of 365 asked for" in told
    late = run(*place, "--end", "04-26")
    assert late.exit_code == 2 and "ends 4 days after 04-26: too few" in late.output


@pytest.mark.practice("common practice, no source: of fewer than ten falls the range is the whole")
def test_the_weathers_band_of_few_falls_is_the_lowest_to_the_highest(found: Cover) -> None:
    few = {"year": slice(0, 5)}
    made = in_fields.cover_by_day(found.stands.isel(few), found.residue.isel(few), SHIPPED)
    covered = found.residue["ground_covered"].isel(few).transpose("year", "sow", "residue", "day")
    assert made["weather_ground_covered_low"] == pytest.approx(covered.min("year").values)
    assert made["weather_ground_covered_high"] == pytest.approx(covered.max("year").values)


def legends(made: object) -> list[str]:
    """Return the titles of the legends of a chart's definition."""
    if isinstance(made, list):
        return [title for one in made for title in legends(one)]
    if not isinstance(made, dict):
        return []
    own = [str(made["legend"]["title"])] if isinstance(made.get("legend"), dict) else []
    return own + [title for key, one in made.items() if key != "datasets" for title in legends(one)]


def test_the_chart_has_a_column_a_sowing_and_one_legend(found: Cover) -> None:
    made = cover_chart.chart(found, "us").to_dict(validate=False)
    columns = made["hconcat"]
    assert [one["vconcat"][0]["title"] for one in columns] == ["sown Oct 20", "sown Dec 8"]
    assert set(legends(columns)) == {"residue"}
    title = " ".join(made["title"]["text"])
    for row in cover_chart.spoken_rows(found):  # the title's figures are marked on the line
        assert f"{row['told']} %" in title
        assert any(row in drawn for drawn in made["datasets"].values())


def test_the_chart_says_tied_up_where_nothing_is_set_free(found: Cover) -> None:
    signs = np.linspace(0.0, 20.0, found.days + 1)
    said = {
        name: json.dumps(
            cover_chart.chart(changed(found, nitrogen_released_kg_ha=nitrogen), "si").to_dict(
                validate=False
            )["hconcat"]
        )
        for name, nitrogen in (("tied", -signs), ("free", signs), ("both", signs - 10.0))
    }
    assert "nitrogen tied up (kg/ha)" in said["tied"] and "set free" not in said["tied"]
    assert "nitrogen set free (kg/ha)" in said["free"] and "tied up" not in said["free"]
    assert "nitrogen set free (kg/ha)" in said["both"] and '"tied up"' in said["both"]


def test_the_chart_has_a_range_of_each_quantity_it_draws(found: Cover) -> None:
    rows = [row for row in chart_rows(found, "si") if row["day"] == found.days]
    for row in rows:
        for name in QUANTITIES:
            if row["residue"] == "rolled":
                assert row[f"{name}_low"] < row[name] < row[f"{name}_high"]
            else:
                assert row[f"{name}_low"] is None


def test_lines_that_lie_on_each_other_are_drawn_as_one(found: Cover) -> None:
    rows = chart_rows(found, "si")
    twins = [
        {
            **next(
                two
                for two in rows
                if (two["sown"], two["residue"], two["day"]) == (row["sown"], "rolled", row["day"])
            ),
            "residue": row["residue"],
        }
        if row["residue"] == "standing"
        else row
        for row in rows
    ]
    assert "standing or rolled" in " ".join(
        row["residue"].replace("flat or ", "") for row in cover_chart.merged(twins, "rolled")
    )
