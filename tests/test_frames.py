"""A record of a table in memory: what a file would give, and what is refused."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import simulator
from simulator import InputError, WeatherDoubt, record_from_frame
from simulator.problems import printable

HEADERS = {"tmax": "tmax (degC)", "tmin": "tmin (degC)", "rain": "rain (mm)"}


def frame(days: int = 120, first: str = "2005-10-01") -> pd.DataFrame:
    """A plausible mild fall, its dates in the index."""
    noise = np.random.default_rng(7).normal(0, 3, days)
    return pd.DataFrame(
        {
            "tmax (degC)": (17 + noise).round(1),
            "tmin (degC)": (6 + noise).round(1),
            "rain (mm)": 14.5 * (np.arange(days) % 4 == 0),
        },
        index=pd.date_range(first, periods=days),
    )


def dated(form: str = "") -> pd.DataFrame:
    """The same with a column of dates."""
    table = frame().reset_index(names="date")
    return table.assign(date=table["date"].dt.strftime(form)) if form else table


def quietly(table: Any, **options: Any) -> xr.Dataset:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return record_from_frame(table, **({"latitude": 31.3} | options))


def values_of(record: xr.Dataset) -> np.ndarray:
    return np.array([record[name].values for name in HEADERS])


SAME: dict[str, Callable[[], tuple[pd.DataFrame, dict[str, Any]]]] = {
    "dates in the index": lambda: (frame(), {}),
    "a column of dates": lambda: (dated(), {}),
    "dates as text": lambda: (dated("%Y-%m-%d"), {}),
    "a declared form": lambda: (dated("%d/%m/%Y"), {"date_format": "DD/MM/YYYY"}),
    "date objects": lambda: (dated().assign(date=list(frame().index.date)), {}),
    "an index named date": lambda: (dated("%Y-%m-%d").set_index("date"), {}),
    "days as periods": lambda: (frame().to_period("D"), {}),
    "year, month and day": lambda: (
        frame()
        .reset_index(drop=True)
        .assign(year=frame().index.year, month=frame().index.month, day=frame().index.day),
        {},
    ),
    "units declared": lambda: (frame().set_axis(list(HEADERS), axis=1), {"units": "si"}),
    "nullable numbers": lambda: (frame().convert_dtypes(), {}),
    "single precision": lambda: (frame().astype("float64").astype("object"), {}),
    "observed at seven": lambda: (frame().set_axis(frame().index + pd.Timedelta(hours=7)), {}),
    "columns beside": lambda: (frame().assign(wind=3.0, note="calm"), {}),
    "latitude in a column": lambda: (frame().assign(latitude=31.3), {"latitude": None}),
}


@pytest.mark.parametrize("kind", SAME)
def test_a_table_may_be_laid_out_in_many_ways(kind: str) -> None:
    table, options = SAME[kind]()
    before = table.copy()
    record = quietly(table, **options)
    expected = [frame()[header].to_numpy() for header in HEADERS.values()]
    np.testing.assert_allclose(values_of(record), expected, rtol=0, atol=1e-12)
    assert record.attrs["latitude"] == 31.3
    np.testing.assert_array_equal(record["time"].values, frame().index.values.astype("M8[ns]"))
    pd.testing.assert_frame_equal(table, before)


@pytest.mark.parametrize("units", [None, "us"])
def test_us_units_by_header_and_by_declaration(units: Any) -> None:
    names = list(HEADERS) if units else ["tmax (degF)", "tmin (degF)", "rain (inch)"]
    ours = frame()
    table = pd.DataFrame(
        {
            names[0]: ours["tmax (degC)"] * 1.8 + 32,
            names[1]: ours["tmin (degC)"] * 1.8 + 32,
            names[2]: ours["rain (mm)"] / 25.4,
        }
    )
    np.testing.assert_allclose(
        values_of(quietly(table, units=units)), values_of(quietly(ours)), rtol=0, atol=1e-9
    )


def test_a_table_and_its_file_give_the_same(tmp_path: Path) -> None:
    table = dated()
    table.loc[7, "rain (mm)"] = np.nan
    path = tmp_path / "lowdale.csv"
    table.to_csv(path, index=False)
    record = record_from_frame(table, latitude=31.3, site="Lowdale")
    from_file = simulator.read_weather(path, latitude=31.3, site="Lowdale")
    xr.testing.assert_equal(record, from_file)
    assert np.isnan(record["rain"].values[7])
    assert record.attrs["site"] == "Lowdale"
    for name in ("doubts", "source"):
        record.attrs.pop(name, None)
        from_file.attrs.pop(name, None)
    assert record.attrs == from_file.attrs


def test_a_record_of_a_table_grows_a_stand() -> None:
    sample = simulator.sample_weather().sel(time=slice("2014-08-01", "2016-07-31"))
    record = quietly(sample.to_dataframe().rename(columns=HEADERS), latitude=31.6)
    plans = {"sow": "10-20", "nitrogen": "60 lb/acre", "years": [2015]}
    xr.testing.assert_equal(simulator.compare(record, **plans), simulator.compare(sample, **plans))


def test_days_without_a_row_are_missing_and_doubted() -> None:
    with pytest.warns(WeatherDoubt, match="from 2005-11-10 to 2005-11-19 .10 days.") as told:
        record = record_from_frame(frame().drop(frame().index[40:50]), latitude=31.3)
    assert len(told) == 1 and told[0].filename == __file__
    assert record.sizes["time"] == 120 and np.isnan(values_of(record)[:, 40:50]).all()
    assert "frame, 2005-11-20: No row stands for the days before it" in record.attrs["doubts"]


def test_another_latitude_than_the_tables_is_doubted() -> None:
    with pytest.warns(WeatherDoubt, match="The table says 40, you say 31.3; yours is followed"):
        record = record_from_frame(frame().assign(latitude=40.0), latitude=31.3)
    assert record.attrs["latitude"] == 31.3


def spoilt(row: int, column: str, value: Any) -> pd.DataFrame:
    table = dated().astype(object)
    table.loc[row, column] = value
    return table


def rows(*which: int) -> pd.DataFrame:
    return frame().iloc[list(which)]


HOURLY = "It has more than one time a day on 2005-10-01. Make daily values first: the highest"
REFUSED: dict[str, tuple[Callable[[], Any], dict[str, Any], str]] = {
    "no table": (lambda: frame()["rain (mm)"], {}, "A Series is not a pandas.DataFrame."),
    "no units": (
        lambda: frame().set_axis(list(HEADERS), axis=1),
        {},
        "frame, the header, column 'rain': The header does not say the unit. Write rain "
        "(inch) or rain (mm), or declare units='us' (degF, inch) or si (degC, mm).",
    ),
    "other units": (frame, {"units": "K"}, "units: 'K' is not known. Write us or si."),
    "no rain": (lambda: frame().drop(columns="rain (mm)"), {}, "No column is the rain"),
    "no weather": (lambda: frame()[[]].assign(wind=1.0), {}, "None of its columns is tmax"),
    "no dates": (
        lambda: frame().reset_index(drop=True),
        {},
        "Neither its index nor a column holds dates. Name a column 'date'",
    ),
    "no rows": (lambda: frame().iloc[:0], {}, "It has no rows."),
    "no latitude": (frame, {"latitude": None}, "Give it, such as latitude=31.3."),
    "latitude as text": (frame, {"latitude": "31 N"}, "latitude: 31 N is not a number."),
    "beyond the pole": (frame, {"latitude": 131.0}, "131 lies outside 0 to 66"),
    "a time zone": (
        lambda: frame().tz_localize("America/Chicago"),
        {},
        "frame, 'date': Its times have a time zone. Take it off with tz_localize",
    ),
    "a time zone in a column": (
        lambda: dated().assign(date=dated()["date"].dt.tz_localize("UTC")),
        {},
        "a time zone",
    ),
    "by the hour": (lambda: frame(5).resample("1h").ffill(), {}, HOURLY),
    "by the hour as text": (
        lambda: (
            frame(5)
            .resample("1h")
            .ffill()
            .set_axis(frame(5).resample("1h").ffill().index.strftime("%Y-%m-%d %H:%M"))
            .rename_axis("date")
        ),
        {},
        HOURLY,
    ),
    "twice": (lambda: rows(0, 1, 1, 2), {}, "row 2: 2005-10-02 stands a second time, after row 1"),
    "out of order": (lambda: rows(0, 2, 1), {}, "2005-10-02 comes after 2005-10-03."),
    "no date": (lambda: spoilt(5, "date", pd.NaT), {}, "frame, row 5, the date: The date is blank"),
    "either order": (lambda: dated("%d/%m/%Y").iloc[:9], {}, "date_format='DD/MM/YYYY' or"),
    "exchanged": (
        lambda: frame().set_axis(["tmin (degC)", "tmax (degC)", "rain (mm)"], axis=1),
        {},
        "Exchange the two headers.",
    ),
    "negative rain": (
        lambda: spoilt(5, "rain (mm)", -3.0),
        {},
        "frame, 2005-10-06, column 'rain (mm)': -3 mm is outside what weather does",
    ),
    "infinite": (lambda: spoilt(5, "tmax (degC)", np.inf), {}, "inf degC is outside"),
    "text": (
        lambda: spoilt(5, "rain (mm)", "wet"),
        {},
        "frame, row 5, column 'rain (mm)': 'wet' is not a number.",
    ),
    "two stations": (
        lambda: frame().assign(station=["A", "B"] * 60),
        {},
        "It holds 2 stations. Give the rows of one, as frame[frame['station']",
    ),
    "levels": (lambda: pd.concat([frame()], axis=1, keys=["here"]), {}, "several levels"),
    "fahrenheit": (
        lambda: frame().rename(columns={"tmax (degC)": "tmax (degF)"}),
        {},
        "is below tmin",
    ),
}


@pytest.mark.parametrize("wrong", REFUSED)
def test_what_is_no_weather_is_refused_in_plain_words(wrong: str) -> None:
    table, options, told = REFUSED[wrong]
    with pytest.raises(InputError, match=re.escape(told)) as refused:
        quietly(table(), **options)
    assert "--" not in str(refused.value)  # a call has arguments, not options


@pytest.mark.parametrize("cell", [10**400, [1], {"a": 1}, 1j, b"12", object(), "\x1b[2J", "\ud800"])
def test_what_no_cell_of_a_file_can_be_is_refused(cell: Any) -> None:
    """Met by ``python -m tests.fuzz --readers frames``."""
    table = frame().astype({"rain (mm)": object})
    table.iat[3, 2] = cell
    with pytest.raises(InputError, match="rain") as refused:
        quietly(table)
    assert printable(str(refused.value)) == str(refused.value)


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("site", 3.0),
        ("site", ["Low"]),
        ("date_format", 7),
        ("units", {"si"}),
        ("units", np.array([1, 2])),
        ("latitude", 10**400),
        ("latitude", np.array([31.0, 32.0])),
    ],
)
def test_options_of_another_kind_are_refused(option: str, value: Any) -> None:
    """Met by ``python -m tests.fuzz --readers frames``."""
    with pytest.raises(InputError, match=option):
        quietly(frame(), **{option: value})


def test_a_station_that_nothing_can_be_compared_with_is_text() -> None:
    with pytest.raises(InputError, match="holds 2 stations"):
        quietly(frame().assign(station=[{1}] * 60 + [{2}] * 60))
