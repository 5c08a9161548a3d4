"""Seasons of thermal time: summed as by hand, side by side, what is not covered left out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import simulator
from simulator.answers.degree_days.calculate import (
    METHODS,
    SIMULATORS_OWN,
    WITHOUT_UPPER,
    degree_days,
)
from simulator.problems import InputError
from simulator.process import thermal_time as methods
from simulator.weather.fall_year import season_day
from simulator.weather.record import make_record

FORTNIGHT = [(12, 1), (8.5, -2), (3, -5), (-1, -9), (2, -6), (6, -1), (11, 0), (15.5, 4), (18, 7),
             (21, 9.5), (26, 12), (33, 17), (9, 5), (7, 4)]  # fmt: skip


def fortnight(first: str = "2011-03-11") -> xr.Dataset:
    high, low = np.array(FORTNIGHT, dtype=float).T
    days = np.datetime64(first) + np.arange(high.size)
    return make_record(days, high, low, np.zeros(high.size), site="Fortnight", latitude=40.0)


def sums(record: xr.Dataset, **settings) -> dict[str, float]:
    found = degree_days(record, **settings)["thermal_time_degC_d"].squeeze(["year", "base"])
    return dict(zip(map(str, found["counted_by"].values), found.values.tolist(), strict=True))


@pytest.mark.analytic("a fortnight summed by another's script, to three decimals")
def test_golden_fortnight() -> None:
    found = sums(fortnight(), bases=[4.4], first="03-11", last="03-24")
    assert found["average mean clamped"] == pytest.approx(66.400, abs=5e-4)
    assert found["average ends clamped"] == pytest.approx(73.550, abs=5e-4)
    assert found["single triangle"] == pytest.approx(68.822, abs=5e-4)
    assert found["single sine"] == pytest.approx(70.029, abs=5e-4)
    found = sums(fortnight(), bases=[0.0], upper=30.0, first="03-11", last="03-24")
    assert found["average mean clamped"] == pytest.approx(111.750, abs=5e-4)
    assert found["average ends clamped"] == pytest.approx(115.750, abs=5e-4)
    assert found["single sine"] == pytest.approx(113.540, abs=5e-4)
    assert found["single sine, horizontal cutoff"] == pytest.approx(112.978, abs=5e-4)


# what each label promises, said a second time
CALLS = {
    "average mean clamped": (methods.average_mean_clamped, None),
    "average ends clamped": (methods.average_ends_clamped, None),
    "single triangle": (methods.single_triangle, None),
    "single sine": (methods.single_sine, None),
    "average mean clamped, horizontal cutoff": (methods.average_mean_clamped, ()),
    "average ends clamped, horizontal cutoff": (methods.average_ends_clamped, ()),
    "single triangle, horizontal cutoff": (methods.single_triangle, (methods.HORIZONTAL,)),
    "single triangle, intermediate cutoff": (methods.single_triangle, (methods.INTERMEDIATE,)),
    "single triangle, vertical cutoff": (methods.single_triangle, (methods.VERTICAL,)),
    "single sine, horizontal cutoff": (methods.single_sine, (methods.HORIZONTAL,)),
    "single sine, intermediate cutoff": (methods.single_sine, (methods.INTERMEDIATE,)),
    "single sine, vertical cutoff": (methods.single_sine, (methods.VERTICAL,)),
}


def test_each_label_is_the_method_it_names() -> None:
    assert list(CALLS) == list(METHODS)
    found = sums(fortnight(), bases=[4.4], upper=21.0, first="03-11", last="03-24")
    for label, (function, cutoff) in CALLS.items():
        thresholds = (4.4,) if cutoff is None else (4.4, 21.0, *cutoff)
        by_hand = sum(function.py_func(high, low, *thresholds) for high, low in FORTNIGHT)
        assert found[label] == pytest.approx(by_hand, rel=1e-12), label
    assert len({round(value, 6) for value in found.values()}) == len(METHODS)


def test_first_and_last_day_count_and_no_other() -> None:
    days = np.arange(np.datetime64("2010-07-01"), np.datetime64("2012-07-01"))
    inside = (days >= np.datetime64("2010-10-20")) & (days <= np.datetime64("2011-04-15"))
    warm = np.where(inside, 10.0, 50.0)
    record = make_record(days, warm, warm, 0.0 * warm, site="Step", latitude=31.0)
    found = degree_days(record, bases=[4.0], years=[2010])
    length = int((season_day(2010, "04-15") - season_day(2010, "10-20")).astype(int)) + 1
    assert length == 178
    np.testing.assert_allclose(found["thermal_time_degC_d"], 6.0 * length, rtol=1e-12)


def test_a_leap_day_counts() -> None:
    days = np.arange(np.datetime64("2010-07-01"), np.datetime64("2012-07-01"))
    record = make_record(
        days,
        days.astype(int) * 0 + 1.0,
        days.astype(int) * 0 + 1.0,
        days.astype(int) * 0.0,
        site="Even",
        latitude=31.0,
    )
    found = degree_days(record, bases=[0.0], first="02-01", last="03-01")
    assert found["year"].values.tolist() == [2010, 2011]
    assert found["thermal_time_degC_d"][:, 0, 0].values.tolist() == [29.0, 30.0]


def test_side_by_side_on_the_sample() -> None:
    record = simulator.sample_weather()
    found = degree_days(record, bases=[0.0, 40 / 9, 0.0], upper=30.0)
    warmth = found["thermal_time_degC_d"]
    assert warmth.dims == ("year", "base", "counted_by")
    assert warmth.shape == (30, 2, 12)
    assert warmth.attrs["units"] == "degC d"
    assert found["base"].attrs["units"] == "degC"
    assert found.attrs["simulator_uses"] == SIMULATORS_OWN
    assert SIMULATORS_OWN == "single sine, horizontal cutoff at 30 degC, base 0 degC"
    assert found.attrs["invented"] == "yes"
    assert found.attrs["site"] == record.attrs["site"]
    assert found.attrs["left_out"] == []
    in_order = warmth.sel(
        counted_by=[
            "average mean clamped",
            "single triangle",
            "single sine",
            "average ends clamped",
        ]
    )
    assert (in_order.diff("counted_by") >= -1e-9).all()
    assert (warmth.sel(base=0.0) > warmth.sel(base=40 / 9)).all()


def test_the_simulators_own_is_among_them() -> None:
    record = simulator.sample_weather()
    found = degree_days(record, bases=[methods.BASE], upper=methods.UPPER, years=[2007])
    season = record.sel(time=slice("2007-10-20", "2008-04-15"))
    own = sum(map(methods.thermal_time, season["tmax"].values, season["tmin"].values))
    beside = found["thermal_time_degC_d"].sel(counted_by="single sine, horizontal cutoff").item()
    assert beside == pytest.approx(own, rel=1e-12)


def test_no_upper_threshold_no_cutoffs() -> None:
    found = degree_days(simulator.sample_weather(), bases=[5.0])
    assert found["counted_by"].values.tolist() == list(METHODS[:WITHOUT_UPPER])
    assert "upper_degC" not in found.attrs


def test_seasons_not_covered_are_left_out_and_named() -> None:
    record = simulator.sample_weather().copy(deep=True)
    record["tmin"].loc[{"time": slice("2001-12-01", "2001-12-10")}] = np.nan
    found = degree_days(record, bases=[0.0], years=[1990, 2000, 2001, 2002])
    assert found["year"].values.tolist() == [2000, 2002]
    assert [text[:6] for text in found.attrs["left_out"]] == ["1990: ", "2001: "]
    assert "no tmin from 2001-12-01 to 2001-12-10 (10 days)" in found.attrs["left_out"][1]
    assert not found["thermal_time_degC_d"].isnull().any()


def test_short_gaps_are_filled_and_told() -> None:
    record = simulator.sample_weather().copy(deep=True)
    record["tmin"].loc[{"time": slice("2001-12-01", "2001-12-02")}] = np.nan
    found = degree_days(record, bases=[0.0], years=[2001])
    assert found["year"].values.tolist() == [2001]
    assert "tmin 2 days by a straight line: 2001-12-01..2001-12-02" in found.attrs["filled"]


def test_rain_is_not_needed() -> None:
    record = simulator.sample_weather()
    dry = record.copy(deep=True)
    dry["rain"][:] = np.nan
    xr.testing.assert_equal(degree_days(dry, bases=[0.0]), degree_days(record, bases=[0.0]))
    assert dry["rain"].isnull().all()
    assert not degree_days(dry, bases=[0.0]).attrs.get("filled")


@pytest.mark.parametrize(
    ("settings", "messages"),
    [
        ({"bases": []}, ["base: 0 thresholds given. Give 1 to 50."]),
        ({"bases": [40.0]}, ["base: 40 degC (104 degF) is out of range. Take -20 to 30 degC"]),
        ({"bases": [float("nan")]}, ["base: nan degC"]),
        ({"bases": [0.0, 10.0], "upper": 10.0}, ["upper: 10 degC is not above 10 degC."]),
        ({"bases": [0.0], "upper": float("inf")}, ["upper: inf degC is out of range."]),
        ({"bases": [0.0], "first": "13-01"}, ["from: '13-01' is not a day of the calendar."]),
        ({"bases": [0.0], "last": "soon"}, ["to: 'soon' is not a date of a season."]),
        ({"bases": [0.0], "first": "04-15", "last": "10-20"}, ["to: 10-20 comes before 04-15."]),
        ({"bases": [0.0], "years": []}, ["years: No year given."]),
        (
            {"bases": [0.0], "years": [1900]},
            ["weather: No season has whole temperatures", "1900: "],
        ),
        (
            {"bases": [99.0], "upper": 200.0, "first": "x", "last": "y"},
            ["4 problems", "base: 99", "upper: 200", "from: 'x'", "to: 'y'"],
        ),
    ],
)
def test_faults_are_named_all_at_once(settings: dict, messages: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        degree_days(simulator.sample_weather(), **settings)
    for message in messages:
        assert message in str(caught.value)


def test_real_winters_from_november_on(open_data: Path) -> None:
    record = simulator.read_weather(
        open_data / "weather" / "headland_winters_2005_2007.csv", latitude=31.35
    )
    found = degree_days(record, bases=[40 / 9], first="11-15", last="04-15")
    warmth = found["thermal_time_degC_d"].sel(counted_by="single sine")
    assert found["year"].values.tolist() == [2005, 2006]
    # south-east Alabama: winter days of 8 to 20 degC on average
    assert ((warmth > 600) & (warmth < 2400)).all()


def test_each_of_many_bases_is_as_alone() -> None:
    record = simulator.sample_weather()
    bases = np.linspace(0, 10, 20).tolist()
    together = degree_days(record, bases=bases, upper=30.0)
    for base in bases[::7]:
        alone = degree_days(record, bases=[base], upper=30.0)
        xr.testing.assert_equal(together.sel(base=[base]), alone)
