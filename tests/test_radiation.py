"""Measured radiation: read with its unit, checked by row, carried to the season, and changed."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import xarray as xr
from click.testing import CliRunner

from simulator.answers.outlook.calculate import outlook
from simulator.commands import fallsown
from simulator.parameters.cereals import cereal
from simulator.parameters.soils import previous_crop, soil
from simulator.problems import InputError
from simulator.process.sun import CLEAREST, extraterrestrial_radiation
from simulator.season.compare import compare
from simulator.season.grid.run import run_grid
from simulator.season.one_season import run_season
from simulator.season.plan import Plan, end
from simulator.season.seasons import cut_seasons
from simulator.trials.plot_runs import Plot, PlotRuns
from simulator.weather.change import change_weather
from simulator.weather.files.checking import Report, check_weather
from simulator.weather.files.columns import line_to, recognise
from simulator.weather.files.reading import read_weather
from simulator.weather.places import find_places
from simulator.weather.radiation import SCALED, estimate
from simulator.weather.record import fill_short_gaps, make_record
from simulator.weather.samples import sample_weather

LATITUDE = 31.3
PLAN = {"seeding": "90 lb/acre", "nitrogen": "30 lb/acre", "nitrogen_timing": "sowing"}


def winter(days: int = 320, first: str = "2005-08-01") -> xr.Dataset:
    """An invented mild winter whose radiation is 0.4 of what reaches the top of the air."""
    at = np.arange(days)
    noise = np.random.default_rng(7).normal(0, 3, days)
    time = np.datetime64(first) + at
    of_year = (time - time.astype("datetime64[Y]")).astype(int) + 1
    sent = np.array([extraterrestrial_radiation(LATITUDE, day) for day in of_year])
    return make_record(
        time,
        19 + noise,
        7 + noise - at % 3,
        (at % 4 == 0) * 14.5,
        site="Invented",
        latitude=LATITUDE,
        radiation=0.4 * sent,
    )


def table(folder: Path, record: xr.Dataset, header: str, values: list[str]) -> Path:
    path = folder / "w.csv"
    lines = [f"date,tmax (degC),tmin (degC),rain (mm),{header}"]
    days = record.time.values.astype("datetime64[D]")
    for at, day in enumerate(days):
        cells = (f"{record[name].values[at]:.2f}" for name in ("tmax", "tmin", "rain"))
        lines.append(",".join([str(day), *cells, values[at]]))
    path.write_text("\n".join(lines) + "\n")
    return path


def check(
    folder: Path, values: list[str], header: str = "radiation (MJ/m2/d)", **options
) -> Report:
    path = table(folder, winter(), header, values)
    return check_weather(path, **({"latitude": LATITUDE} | options))


def spelled(factor: float = 1.0) -> list[str]:
    return [f"{value * factor:.6f}" for value in winter().radiation.values]


@pytest.mark.published("Allen et al. (1998), FAO paper 56, table 3: 1 MJ m-2 d-1 is 11.6 W m-2")
def test_a_mean_of_a_day_in_watts() -> None:
    assert 1 / line_to("W/m2", "radiation")[1] == pytest.approx(11.6, abs=0.05)
    assert line_to("cal/cm2", "radiation")[1] == pytest.approx(4.1868e-2, abs=5e-5)


@pytest.mark.analytic("1 kWh is 3.6 MJ, 1 W over a day 0.0864 MJ, 1 J/cm2 is 0.01 MJ/m2")
@pytest.mark.parametrize(
    ("unit", "slope"),
    [
        ("MJ/m2/d", 1.0),
        ("MJ m-2 d-1", 1.0),
        ("MJ/m²", 1.0),
        ("MJ m^-2 day^-1", 1.0),
        ("mj/m2", 1.0),
        ("kWh/m2", 3.6),
        ("kWh/m2/day", 3.6),
        ("Wh/m2", 0.0036),
        ("W/m2", 0.0864),
        ("W m-2", 0.0864),
        ("W m**-2", 0.0864),
        ("J/cm2", 0.01),
        ("J m-2", 1e-6),
        ("langley", 0.04184),
        ("ly/day", 0.04184),
    ],
)
def test_units_of_radiation(unit: str, slope: float) -> None:
    name, found, offset = line_to(unit, "radiation")
    assert (found, offset) == (pytest.approx(slope, rel=1e-12), 0.0)
    assert name == unit


@pytest.mark.parametrize("unit", ["h", "mm", "W/m2/d", "MJ", "degC", "W"])
def test_what_is_no_unit_of_radiation(unit: str) -> None:
    with pytest.raises(InputError):
        line_to(unit, "radiation")


@pytest.mark.parametrize(
    ("header", "role"),
    [
        ("radiation (MJ m-2 d-1)", "radiation"),
        ("Global radiation [W/m2]", "radiation"),
        ("solar_radiation (kWh/m2)", "radiation"),
        ("srad (MJ/m2)", "radiation"),
        ("mean irradiance (W/m2)", "radiation"),
        ("net radiation (W/m2)", ""),
        ("diffuse radiation (W/m2)", ""),
        ("T mean (degC)", ""),
        ("mean (degC)", ""),
        ("solar (W)", ""),
        ("global", ""),
    ],
)
def test_headers(header: str, role: str) -> None:
    assert recognise(header)[0] == role


@pytest.mark.parametrize(
    ("header", "factor"),
    [("radiation (MJ/m2/d)", 1.0), ("srad (W/m2)", 1 / 0.0864), ("radiation [kWh/m2]", 1 / 3.6)],
)
def test_a_table(tmp_path: Path, header: str, factor: float) -> None:
    record = read_weather(table(tmp_path, winter(), header, spelled(factor)), latitude=LATITUDE)
    np.testing.assert_allclose(record.radiation.values, winter().radiation.values, atol=1e-5)
    assert record.radiation.attrs["units"] == "MJ m-2 d-1"
    assert record.attrs["notes"] == ""


def test_a_spreadsheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["date", "tmax (degF)", "tmin (degF)", "rain (inch)", "radiation (W/m2)"])
    for day, value in enumerate([100.0, None, 120.5], start=1):
        book.active.append([f"2005-11-0{day}", 60, 40, 0, value])
    book.save(tmp_path / "w.xlsx")
    record = read_weather(tmp_path / "w.xlsx", latitude=LATITUDE)
    np.testing.assert_allclose(record.radiation.values, [8.64, np.nan, 10.4112])


@pytest.mark.parametrize("named", [True, False])
def test_cf_netcdf(tmp_path: Path, named: bool) -> None:
    data = winter().rename(radiation="rsds" if named else "x")
    data["rsds" if named else "x"] = (
        "time",
        winter().radiation.values / 0.0864,
        {
            "units": "W m-2",
            **({} if named else {"standard_name": "surface_downwelling_shortwave_flux_in_air"}),
        },
    )
    data.to_netcdf(tmp_path / "r.nc")
    record = read_weather(tmp_path / "r.nc")
    np.testing.assert_allclose(record.radiation.values, winter().radiation.values, rtol=1e-12)


def test_a_record_reads_back(tmp_path: Path) -> None:
    winter().to_netcdf(tmp_path / "r.nc")
    again = read_weather(tmp_path / "r.nc")
    np.testing.assert_array_equal(again.radiation.values, winter().radiation.values)


def test_without_a_unit_it_is_not_used_and_a_note_says_so(tmp_path: Path) -> None:
    path = table(tmp_path, winter(), "radiation", spelled())
    record = read_weather(path, latitude=LATITUDE)
    assert "radiation" not in record
    assert record.attrs["notes"] == (
        "column 'radiation' is not used, for its header does not say the unit: "
        "write radiation (MJ/m2/d) or radiation (W/m2)"
    )
    report = check(tmp_path, spelled(), "radiation", units_of_file="us")
    assert report.usable and "radiation" not in report.columns


def test_a_wrong_unit_is_refused(tmp_path: Path) -> None:
    (problem,) = check(tmp_path, spelled(), "radiation (hours)").problems
    assert str(problem) == (
        "w.csv, line 1, column 'radiation (hours)': 'hours' is not a unit of radiation. "
        "Write radiation (MJ/m2/d) or radiation (W/m2)."
    )


def test_bad_cells_are_named_by_row(tmp_path: Path) -> None:
    values = spelled()
    values[3], values[10], values[20] = "-1", "cloudy", "44"
    where = "w.csv, line {}, column 'radiation (MJ/m2/d)': "
    text, below, above = map(str, check(tmp_path, values).problems)
    assert text.startswith(where.format(12) + "'cloudy' is not a number.")
    assert below == where.format(5) + (
        "-1 MJ/m2/d of radiation is below 0. Correct it, or leave it blank."
    )
    sent = extraterrestrial_radiation(LATITUDE, 233)  # 21 August
    assert above == where.format(22) + (
        f"44 MJ/m2/d of radiation is above {sent:.4g} MJ/m2/d, what the sun sends to the top of "
        "the air on that day. Correct it, or leave it blank."
    )


def test_without_a_latitude_the_limit_is_the_brightest_anywhere(tmp_path: Path) -> None:
    values = spelled()
    values[3], values[4] = "44", "46"
    (problem,) = check(tmp_path, values, latitude=None, need_latitude=False).problems
    assert "line 6" in str(problem)
    assert "above 45 MJ/m2/d, what the sun sends anywhere" in str(problem)


def test_a_column_in_another_unit_is_told_of_once(tmp_path: Path) -> None:
    (problem,) = check(tmp_path, spelled(1 / 0.0864)).problems
    assert "and 319 other values are below 0 or above" in str(problem)
    assert problem.remedy.startswith("Correct the unit in the header")
    values = [value if at % 9 else "-999" for at, value in enumerate(spelled())]
    (problem,) = check(tmp_path, values).problems
    assert "leave missing values blank" in problem.remedy


def test_check_says_on_how_many_days(tmp_path: Path) -> None:
    values = spelled()
    values[5:15] = [""] * 10
    report = check(tmp_path, values)
    assert report.usable and report.doubts == []
    assert report.columns["radiation"] == (
        "column 'radiation (MJ/m2/d)' in MJ/m2/d; measured on 310 of 320 days, estimated on the "
        "others"
    )
    assert report.missing == {"tmax": 0, "tmin": 0, "rain": 0}
    args = ["check", str(tmp_path / "w.csv"), "--latitude", "31.3"]
    assert "measured on 310 of 320 days" in " ".join(
        CliRunner().invoke(fallsown, args).output.split()
    )


def test_a_blank_column_is_as_none(tmp_path: Path) -> None:
    path = table(tmp_path, winter(), "radiation (MJ/m2/d)", [""] * 320)
    assert "radiation" not in read_weather(path, latitude=LATITUDE)


def test_german_files(open_data: Path) -> None:
    path = open_data / "weather" / "germany" / "han_germany.csv"
    report = check_weather(path, latitude=52.24)
    assert report.usable
    assert "measured on 1,857 of 1,857 days" in report.columns["radiation"]
    record = read_weather(path, latitude=52.24)
    assert record.radiation.values[:3].tolist() == [17.99, 19.48, 26.97]


def grown(record: xr.Dataset, **options) -> xr.Dataset:
    plan = {"sow": "10-20", "seeding": "90 lb/acre", "nitrogen": "60 lb/acre", "end": "04-15"}
    return compare(record, **(plan | options))


def biomass(record: xr.Dataset) -> float:
    return float(grown(record).biomass_kg_ha.squeeze())


def test_measured_where_measured_estimated_elsewhere() -> None:
    record = winter()
    some = record.copy(deep=True)
    some.radiation.values[100:] = np.nan
    seasons = cut_seasons(some, None, ["10-20"], [end("04-15")])
    assert seasons.radiation.shape == seasons.tmax.shape
    assert np.isfinite(seasons.radiation).sum() == 100
    whole, half, none = (biomass(r) for r in (record, some, record.drop_vars("radiation")))
    filled = some.copy(deep=True)
    filled.radiation.values[100:] = estimate(record)[100:]
    assert biomass(filled) == half
    everywhere = record.assign(radiation=("time", estimate(record)))
    assert biomass(everywhere) == none
    assert len({whole, half, none}) == 3


def test_more_sun_more_biomass_day_by_day_too() -> None:
    dull, bright = (winter().assign(radiation=winter().radiation * factor) for factor in (0.6, 1.5))
    assert biomass(dull) < biomass(bright)
    plan = Plan(sow="10-20", end="04-15", **PLAN | {"nitrogen": "60 lb/acre"})
    low, high = (run_season(r, plan, year=2005) for r in (dull, bright))
    assert float(low.biomass_kg_ha[-1]) < float(high.biomass_kg_ha[-1])


@pytest.mark.xfail(
    reason="in 16 of 30 falls an unfertilized stand makes less of 1 than of 0.6 of the light, by up"
    " to 597 kg/ha: with more light it grows and sheds more winter leaves, and their nitrogen does"
    " not come back to it: see docs/calibration.md"
)
def test_more_sun_never_lowers_the_biomass_of_a_hungry_stand() -> None:
    record = sample_weather()
    low, high = (
        grown(record.assign(radiation=("time", factor * estimate(record))), nitrogen="0 lb/acre")
        for factor in (0.6, 1.0)
    )
    assert float((high - low).biomass_kg_ha.min()) >= -1e-6


def test_more_sun_never_lowers_the_mean_biomass() -> None:
    record = sample_weather()
    for nitrogen in ("0 lb/acre", "60 lb/acre", "200 lb/acre"):
        mean = [
            float(
                grown(
                    record.assign(radiation=("time", factor * estimate(record))), nitrogen=nitrogen
                ).biomass_kg_ha.mean()
            )
            for factor in (0.6, 1.0, 1.5)
        ]
        assert mean == sorted(mean)


def test_the_same_in_plots_outlook_and_grid(tmp_path: Path) -> None:
    record = winter()
    plot = Plot(
        site="here",
        year=2005,
        sown="10-20",
        sampled="04-15",
        seeding=100.0,
        dressings=(("10-20", 67.0),),
    )
    sets = {"rye": cereal("rye")}, {"here": soil("sandy loam")}, {"here": previous_crop("cotton")}
    sampled = PlotRuns([plot], {"here": record}).simulate(*sets)["biomass_kg_ha"][0]
    same = grown(record, seeding="100 kg/ha", nitrogen="67 kg/ha").biomass_kg_ha.squeeze()
    assert sampled == float(same)
    for name, one in (("with", record), ("without", record.drop_vars("radiation"))):
        (tmp_path / "places").mkdir(exist_ok=True)
        one.assign_attrs(site=name).to_netcdf(tmp_path / "places" / f"{name}.nc")
    places, _ = find_places(tmp_path / "places")
    grid = run_grid(
        places,
        out=tmp_path / "grid.zarr",
        workers=1,
        processes=False,
        years=[2005],
        sow="10-20",
        seeding="90 lb/acre",
        nitrogen="60 lb/acre",
        end="04-15",
        announce=lambda _: None,
    )
    for name, one in (("with", record), ("without", record.drop_vars("radiation"))):
        there = float(grid.biomass_kg_ha.sel(site=name).squeeze())
        assert there == pytest.approx(biomass(one), rel=1e-6)


def test_an_outlook_has_the_measured_radiation() -> None:
    record = sample_weather()
    dull = record.assign(radiation=("time", 0.6 * estimate(record)))
    fed = {"sow": "10-20", **PLAN, "nitrogen": "200 lb/acre"}
    usual, less = (
        outlook(r, fed, {}, ends=["04-15"], with_hindcast=False).usual for r in (record, dull)
    )
    assert (less != usual).all()
    # in a fall short of water (2001) light hardly counts: there a duller one ends a hair ahead
    assert (less < usual).mean() > 0.9 and less.mean() < 0.8 * usual.mean()


def test_short_gaps_are_filled_as_before() -> None:
    record = winter()
    record.radiation.values[50:53] = np.nan
    record.tmax.values[60] = np.nan
    filled = fill_short_gaps(record)
    np.testing.assert_array_equal(filled.radiation.values, record.radiation.values)
    assert "radiation" not in filled.attrs["filled"]


def test_a_change_leaves_other_days_alone_and_scales_its_own() -> None:
    record = winter()
    changed = change_weather(record, "rain november * 0")
    new, old = changed.radiation.values, record.radiation.values
    november = (record.time.dt.month == 11).values
    wet = november & (record.rain.values > 0)
    np.testing.assert_array_equal(new[~wet], old[~wet])
    expected = old * estimate(changed) / estimate(record)
    sent = old / 0.4
    np.testing.assert_allclose(new[wet], np.minimum(expected, CLEAREST * sent)[wet], rtol=1e-12)
    assert (new[wet] > old[wet]).all()
    assert changed.attrs[SCALED] == wet.sum()
    assert record.radiation.values is not new


def test_days_with_gaps() -> None:
    record = winter()
    record.tmax.values[[100, 101]] = np.nan
    record.radiation.values[104] = np.nan
    changed = change_weather(record, "rain november * 2")
    assert changed.radiation.values[101] == record.radiation.values[101]  # dry, so not changed
    assert np.isnan(changed.radiation.values[100])  # rain changed, and no ratio to be had
    assert np.isnan(changed.radiation.values[104])


def test_warmer_by_as_much_at_both_ends_is_as_bright() -> None:
    record = winter()
    changed = change_weather(record, "temperature nov..feb + 3 degF")
    # the swings of 31 October and 28 February are not what they were; for 30 days they count
    inside = slice(92 + 30, 211)
    np.testing.assert_allclose(
        changed.radiation.values[inside], record.radiation.values[inside], rtol=1e-9
    )
    wider = change_weather(record, "tmax nov..feb + 3 degF")
    assert wider.radiation.values[inside].sum() > record.radiation.values[inside].sum()


def test_a_note_tells_of_a_change() -> None:
    told = grown(winter(), changes="rain november = 11 inch").attrs["notes"]
    assert any(
        note.startswith("Radiation was measured under the weather as it was") for note in told
    )
    assert grown(winter()).attrs["notes"] == []
    bare = winter().drop_vars("radiation")
    assert grown(bare, changes="rain november = 11 inch").attrs["notes"] == []


def test_the_command_line_shows_the_note(tmp_path: Path) -> None:
    path = table(tmp_path, winter(), "radiation (MJ/m2/d)", spelled())
    done = CliRunner().invoke(
        fallsown,
        [
            "whatif",
            "--weather",
            str(path),
            "--latitude",
            "31.3",
            "--change",
            "rain november = 11 inch",
            "--json",
        ],
    )
    assert done.exit_code == 0, done.output
    assert "Radiation was measured" in json.dumps(json.loads(done.stdout))
