"""Risk: chances and their intervals, quantiles, latest sowings, nitrate, places, and the words."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from math import comb
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from scipy import stats

from simulator.answers.risk import data as risk_data
from simulator.answers.risk import words as risk_words
from simulator.answers.risk.calculate import Risk, risk_at
from simulator.answers.risk.chance import chances, groups_of
from simulator.answers.risk.leaching_index import (
    hydrologic_group,
    leaching_index,
    leaching_index_of,
)
from simulator.answers.shared.few_falls import effective_number, weighted_quantiles, wilson
from simulator.answers.shared.field_ranges import biomass_ranges, chance_in_fields
from simulator.commands import fallsown
from simulator.parameters.model_error import LEVEL
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.weather.record import make_record
from simulator.weather.samples import sample_weather

INCH = 25.4
WITHIN = {f"within_{tenth}0" for tenth in range(1, 10)}
PLANS = {
    "sow": ["10-20", "12-08"],
    "seeding": ["90 lb/acre"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
SMALL = ["--sow", "10-20,12-08", "--nitrogen", "30,60 lb/acre"]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["risk", *arguments], catch_exceptions=False)


def prose(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 0, result.stderr
    return " ".join(result.stdout.split())


def refused(*arguments: str, says: str) -> None:
    result = run(*arguments)
    told = " ".join(result.stderr.split())
    assert result.exit_code == 2, (result.exit_code, result.output)
    assert says in told, told
    assert result.stdout == ""


# --- intervals and quantiles ---


@pytest.mark.published("Newcombe 1998, Stat. Med. 17:857-872, table I, score interval (method 3)")
@pytest.mark.parametrize(
    ("made", "falls", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_as_printed(made: int, falls: int, low: float, high: float) -> None:
    assert wilson(made / falls, falls) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.other_program("scipy, stats.binomtest(k, n).proportion_ci(0.95, 'wilson')")
@pytest.mark.parametrize("falls", [5, 10, 30])
def test_wilson_intervals_of_scipy(falls: int) -> None:
    for made in range(falls + 1):
        theirs = stats.binomtest(made, falls).proportion_ci(0.95, method="wilson")
        assert wilson(made / falls, falls) == pytest.approx(tuple(theirs), abs=1e-12)


@pytest.mark.analytic(
    "every outcome of 30 falls enumerated: the interval holds the truth in about "
    "95 percent, on average over truths"
)
def test_wilson_intervals_hold_what_they_promise() -> None:
    falls = 30
    ends = [wilson(made / falls, falls) for made in range(falls + 1)]
    held = [
        sum(
            comb(falls, k) * p**k * (1 - p) ** (falls - k)
            for k, (low, high) in enumerate(ends)
            if low <= p <= high
        )
        for p in np.linspace(0.02, 0.98, 97)
    ]
    assert np.mean(held) == pytest.approx(0.95, abs=0.01)
    assert min(held) > 0.83  # known dips near 0 and 1 (Brown, Cai and DasGupta 2001)


def test_no_falls_no_interval() -> None:
    assert np.isnan(wilson(0.5, 0)).all()


@pytest.mark.analytic("Kish: n equal weights count n; one year alone counts 1; 2:1:1 counts 16/6")
def test_effective_number() -> None:
    assert effective_number(np.full(7, 0.3)) == pytest.approx(7)
    assert effective_number(np.array([1.0, 0, 0])) == pytest.approx(1)
    assert effective_number(np.array([2.0, 1, 1])) == pytest.approx(16 / 6)
    assert effective_number(np.zeros(3)) == 0


@pytest.mark.other_program("numpy.quantile, linear (definition 7)")
def test_quantiles_of_equal_weights() -> None:
    values = np.random.default_rng(3).normal(size=23)
    levels = [0.0, 0.1, 0.2, 0.5, 0.8, 0.9, 1.0]
    found = weighted_quantiles(values, np.full(23, 0.2), levels)
    assert found == pytest.approx(np.quantile(values, levels))


@pytest.mark.analytic("by hand: middles 0.5, 2, 3.5 of weights 1, 2, 1 lie at 0, 1/2 and 1")
def test_weighted_quantiles_by_hand() -> None:
    found = weighted_quantiles(np.array([30.0, 10, 20, 99]), np.array([1.0, 1, 2, 0]),
                               [0, 0.25, 0.5, 1])  # fmt: skip
    assert found == pytest.approx([10, 15, 20, 30])
    assert weighted_quantiles(np.array([5.0]), np.ones(1), [0.1, 0.9]) == pytest.approx([5, 5])
    assert np.isnan(weighted_quantiles(np.array([5.0]), np.zeros(1), [0.5])).all()


# --- chances ---


def grid(biomass: list[float], leached: list[float], drained: list[float]) -> xr.Dataset:
    """One plan; a fall a value."""
    made = xr.Dataset(
        {
            "biomass_kg_ha": ("year", np.array(biomass)),
            "nitrate_leached_kg_ha": ("year", np.array(leached)),
            "drainage_mm": ("year", np.array(drained)),
        },
        coords={"year": np.arange(2001, 2001 + len(biomass))},
    )
    return made.expand_dims(sow=["10-20"], nitrogen=[33.6])


BIOMASS = [1000.0, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10000]


@pytest.mark.analytic(
    "counted by hand: 6 of 10 at 5000 or more; 20 kg/ha in 200 mm are 10 mg/L (G6)"
)
def test_chance_and_concentration_by_hand() -> None:
    made = grid(BIOMASS, [20.0] * 10, [100.0, 300] * 5)
    found = chances(made, 5000.0, groups_of(range(2001, 2011), None, None)).squeeze()
    assert float(found["weather_chance_percent"]) == 60  # 5000 itself reaches 5000
    low, high = stats.binomtest(6, 10).proportion_ci(0.95, method="wilson")
    assert float(found["weather_chance_low_percent"]) == pytest.approx(100 * low)
    assert float(found["weather_chance_high_percent"]) == pytest.approx(100 * high)
    # flow-weighted: 200 kg/ha in 2000 mm, not the mean of 20 and 6.67 mg/L
    assert float(found["nitrate_concentration_mg_l"]) == pytest.approx(10.0)
    assert float(found["above_limit_percent"]) == 50  # the falls with 20 mg/L
    assert float(found["weather_median_kg_ha"]) == pytest.approx(5500)
    in_fields = chance_in_fields(np.array(BIOMASS), 5000.0)
    assert float(found["chance_percent"]) == pytest.approx(100 * in_fields)
    ranges = biomass_ranges(np.array(BIOMASS))
    assert float(found["biomass_low_kg_ha"]) == pytest.approx(ranges.low)
    assert float(found["biomass_high_kg_ha"]) == pytest.approx(ranges.high)
    assert float(found["weather_low_kg_ha"]) == pytest.approx(ranges.weather_low)


@pytest.mark.analytic("errors that are next to nothing leave the falls alone")
def test_without_an_error_of_the_model_the_falls_are_left() -> None:
    made = grid(BIOMASS, [1.0] * 10, [10.0] * 10)
    exact = replace(LEVEL, **dict.fromkeys(LEVEL.specs().keys() & WITHIN, 1e-9))
    found = chances(made, 5500.0, groups_of(range(2001, 2011), None, None), error=exact).squeeze()
    assert float(found["chance_percent"]) == pytest.approx(50)
    assert float(found["chance_percent"]) == pytest.approx(float(found["weather_chance_percent"]))
    assert float(found["biomass_p20_kg_ha"]) == pytest.approx(2800, abs=100)


def test_chances_have_no_cliff() -> None:
    """A fall that comes a little short of the target counts for nearly as much."""
    groups = groups_of(range(2001, 2011), None, None)

    def of(target: float) -> tuple[float, float]:
        made = grid([5000.0] * 10, [1.0] * 10, [10.0] * 10)
        found = chances(made, target, groups).squeeze()
        return float(found["chance_percent"]), float(found["weather_chance_percent"])

    (under, alone_under), (over, alone_over) = of(4999.0), of(5001.0)
    assert (alone_under, alone_over) == (100, 0)
    assert under == pytest.approx(over, abs=0.1)
    assert under == pytest.approx(50, abs=0.1)


@pytest.mark.analytic("a forecast's chance is the kinds' chances weighed: 0.5 x 1 + 0.5 x 0.2")
def test_forecast_by_hand() -> None:
    kinds = {year: "wet" if year > 2005 else "dry" for year in range(2001, 2011)}
    groups = groups_of(range(2001, 2011), kinds, {"wet": 0.5, "dry": 0.5})
    found = chances(grid(BIOMASS, [1.0] * 10, [10.0] * 10), 5000.0, groups).squeeze()
    alone = found["weather_chance_percent"]
    by_kind = dict(zip(found["kind"].values, alone.values, strict=True))
    assert by_kind == pytest.approx({"all falls": 60, "dry": 20, "wet": 100, "forecast": 60})
    both = found["chance_percent"].sel(kind=["dry", "wet"]).mean()
    assert float(found["chance_percent"].sel(kind="forecast")) == pytest.approx(float(both))
    groups = groups_of(range(2001, 2011), kinds, {"wet": 1.0, "dry": 0.0})
    found = chances(grid(BIOMASS, [1.0] * 10, [10.0] * 10), 5000.0, groups).squeeze()
    row = found.sel(kind="forecast")
    assert float(row["weather_chance_percent"]) == pytest.approx(100)
    assert float(row["falls_effective"]) == pytest.approx(5)
    assert float(row["weather_chance_low_percent"]) == pytest.approx(
        float(found.sel(kind="wet")["weather_chance_low_percent"])
    )


def test_too_few_falls_of_a_kind_get_no_chance() -> None:
    kinds = {year: "wet" if year > 2006 else "dry" for year in range(2001, 2011)}
    found = chances(
        grid(BIOMASS, [1.0] * 10, [10.0] * 10), 5000.0, groups_of(range(2001, 2011), kinds, None)
    ).squeeze()
    assert np.isfinite(found.sel(kind="dry")["chance_percent"])
    assert np.isnan(found.sel(kind="wet")["chance_percent"])
    assert float(found.sel(kind="wet")["biomass_mean_kg_ha"]) == pytest.approx(8500)


def test_a_fall_without_drainage_or_end() -> None:
    made = grid([np.nan, *BIOMASS[1:]], [0.0] * 10, [0.0] * 10)
    found = chances(made, 5000.0, groups_of(range(2001, 2011), None, None)).squeeze()
    assert float(found["falls"]) == 9
    assert float(found["weather_chance_percent"]) == pytest.approx(100 * 6 / 9)
    in_fields = chance_in_fields(np.array(BIOMASS[1:]), 5000.0)
    assert float(found["chance_percent"]) == pytest.approx(100 * in_fields)
    assert float(found["biomass_high_kg_ha"]) == pytest.approx(
        biomass_ranges(np.array(BIOMASS[1:])).high, rel=0.01
    )
    assert np.isnan(found["nitrate_concentration_mg_l"])


# --- the leaching index ---


@pytest.mark.practice("from memory: Williams and Kissel 1991, leaching index, P and PW in inches")
@pytest.mark.parametrize(
    ("annual", "winter", "by_group"),
    [
        (40, 16, {"A": 14.79, "B": 9.24, "C": 5.61, "D": 3.77}),
        (40, 20, {"A": 15.94, "B": 9.95, "C": 6.05, "D": 4.06}),
        (30, 12, {"A": 7.95, "B": 3.95, "C": 1.72, "D": 0.78}),
    ],
)
def test_leaching_index(annual: float, winter: float, by_group: dict[str, float]) -> None:
    for group, printed in by_group.items():
        found = leaching_index(annual * INCH, winter * INCH, group)
        assert found.index == pytest.approx(printed, abs=0.02)


@pytest.mark.published(
    "Cornell, NRCCA study resources CA0660: < 2 low, 2 to 10 moderate, > 10 high"
)
def test_leaching_index_ranks() -> None:
    ranks = [leaching_index(40 * INCH, 16 * INCH, g).rank for g in "ABCD"]
    assert ranks == ["high", "moderate", "moderate", "moderate"]
    assert leaching_index(30 * INCH, 12 * INCH, "D").rank == "low"
    assert leaching_index(5 * INCH, 2 * INCH, "A").index == 0  # under the initial loss
    assert leaching_index(0.0, 0.0, "A").index == 0


@pytest.mark.practice("from memory: NEH-630 ch. 9, small grain, curve numbers by hydrologic group")
def test_hydrologic_groups() -> None:
    groups = {61: "A", 63: "A", 73: "B", 75: "B", 81: "C", 83: "C", 84: "D", 87: "D"}
    assert {number: hydrologic_group(number) for number in groups} == groups


@pytest.mark.analytic("3 mm a day in winter half, 1 mm in summer: 182 x 3 and 183 x 1 mm a year")
def test_leaching_index_of_a_record() -> None:
    time = np.arange("2001-09-01", "2004-01-01", dtype="datetime64[D]")
    month = time.astype("datetime64[M]").astype(int) % 12 + 1
    rain = np.where((month >= 10) | (month <= 3), 3.0, 1.0)
    record = make_record(time, rain * 0 + 20, rain * 0 + 10, rain, site="Made", latitude=33.0)
    found = leaching_index_of(record, 63.0)
    assert found is not None
    assert (found.annual, found.winter) == pytest.approx((546 + 183, 546))
    assert leaching_index_of(record.isel(time=slice(0, 300)), 63.0) is None


# --- a place ---


@pytest.fixture(scope="module")
def here() -> Risk:
    return risk_at(sample_weather(), PLANS, {}, target=4483.4)


def test_shares_are_those_of_compare(here: Risk) -> None:
    again = compare(sample_weather(), **PLANS)["biomass_kg_ha"].squeeze()
    found = here.table.sel(kind="all falls").squeeze()
    assert found["weather_chance_percent"].values == pytest.approx(
        100 * (again >= 4483.4).mean("year").values
    )
    in_fields = [chance_in_fields(again.sel(sow=sow).values, 4483.4) for sow in PLANS["sow"]]
    assert found["chance_percent"].values == pytest.approx(100 * np.array(in_fields))


def test_the_latest_sowing_is_the_latest_of_its_days() -> None:
    """Every day after it, tried one by one, has less of a chance, by falls as in fields."""
    target = 2500.0
    table = risk_at(sample_weather(), PLANS, {}, target=target, often=0.6).table
    for before, chance_of in (
        ("", lambda values: chance_in_fields(values, target)),
        ("weather_", lambda values: (values >= target).mean()),
    ):
        latest = str(table[f"{before}latest_sowing"].values.flat[0])
        chance = float(table[f"{before}latest_chance_percent"].values.flat[0])
        assert chance >= 60
        first = np.datetime64(f"200{1 if latest > '07' else 2}-{latest}")
        after = [str(day)[5:] for day in first + np.arange(15)]
        tried = compare(sample_weather(), **{**PLANS, "sow": after})["biomass_kg_ha"].squeeze()
        shares = np.array([chance_of(tried.sel(sow=day).values) for day in after])
        assert 100 * shares[0] == pytest.approx(chance)
        assert (shares[1:] < 0.6).all()


def test_how_fast_the_chance_falls_and_where_it_is_best() -> None:
    plans = {**PLANS, "sow": ["10-20"], "nitrogen": ["60 lb/acre"]}
    table = risk_at(sample_weather(), plans, {}, target=4000.0, often=0.6).table.squeeze()
    latest = np.datetime64(f"2001-{table['latest_sowing'].values}")
    days = [str(latest + side)[5:] for side in (-7, 7)]
    grown = compare(sample_weather(), **{**plans, "sow": days})["biomass_kg_ha"].squeeze()
    early, late = (chance_in_fields(grown.sel(sow=day).values, 4000.0) for day in days)
    loss = float(table["latest_loss_percent"])
    assert loss == pytest.approx(100 * (early - late) / 2, abs=1.5)
    never = risk_at(sample_weather(), plans, {}, target=9000.0, often=0.9).table.squeeze()
    assert str(never["latest_sowing"].values) == ""
    assert np.isnan(never["latest_loss_percent"])
    best = str(never["best_sowing"].values)
    grown = compare(sample_weather(), **{**plans, "sow": [best]})["biomass_kg_ha"]
    assert float(never["best_chance_percent"]) == pytest.approx(
        100 * chance_in_fields(grown.values.ravel(), 9000.0)
    )


def test_more_nitrogen_and_a_lower_target_never_bring_it_forward() -> None:
    plans = {**PLANS, "sow": ["11-05"], "nitrogen": ["0,40,80 lb/acre"]}

    def latest(target: float) -> list[str]:
        table = risk_at(sample_weather(), plans, {}, target=target, often=0.5).table
        texts = table["latest_sowing"].squeeze().values
        return [f"{(int(t[:2]) + 5) % 12:02d}{t[2:]}" if t else "" for t in texts]  # Aug first

    low, high = latest(2500.0), latest(4000.0)
    assert all(earlier <= later for earlier, later in pairwise(low))
    assert all(a >= b for a, b in zip(low, high, strict=True))
    assert low != high


def test_four_falls_are_too_few() -> None:
    with pytest.raises(InputError, match=r"at least 5 falls; the weather has 4 .*\(2001, 2002"):
        risk_at(sample_weather(), PLANS, {}, target=4000.0, years=range(2001, 2005))


def test_kinds_must_cover_the_falls() -> None:
    with pytest.raises(InputError, match="No kind is given for 2006"):
        risk_at(
            sample_weather(),
            PLANS,
            {},
            target=4000.0,
            years=range(2001, 2007),
            kinds=dict.fromkeys(range(2001, 2006), "wet"),
        )


# --- words ---


def said(one: Risk) -> str:
    return " ".join(risk_words.sentences(one, "si"))


def with_biomass(one: Risk, factor: float, **more: object) -> Risk:
    made = one.grid.assign(biomass_kg_ha=one.grid["biomass_kg_ha"] * factor)
    table = chances(made, one.target, one.groups)
    kept = one.table.assign({name: table[name] for name in table.data_vars})
    return replace(one, grid=made, table=kept.assign(more))


def test_sentences_change_with_the_numbers(here: Risk) -> None:
    row = here.table.isel(sow=0).squeeze()
    chance, share = (float(row[f"{of}chance_percent"]) for of in ("", "weather_"))
    falls = here.grid.sizes["year"]
    assert f"in a field like these is {chance:.0f} percent sown on Oct 20" in said(here)
    assert f"By weather alone it is reached in {share * falls / 100:.0f} of {falls} falls" in said(
        here
    )
    assert "the model was off by" in said(here)
    doubled = said(with_biomass(here, 100.0))
    assert "is 100 percent sown on Oct 20 and Dec 8." in doubled
    assert f"{falls} of {falls} falls sown on Oct 20 and Dec 8 (100 percent" in doubled
    assert f"0 of {falls} falls sown on Oct 20 and Dec 8 (0 percent" in said(
        with_biomass(here, 0.0)
    )


def test_the_latest_sowing_is_said(here: Risk) -> None:
    def with_latest(text: str, alone: str = "11-20", **more: float) -> Risk:
        named = {
            name: here.table[name].copy(data=np.full(here.table[name].shape, told, object))
            for name, told in (
                ("latest_sowing", text),
                ("weather_latest_sowing", alone),
                ("best_sowing", "10-02"),
            )
        }
        numbers = {
            name: here.table[name].copy(data=np.full(here.table[name].shape, value))
            for name, value in more.items()
        }
        return with_biomass(here, 1.0, **named, **numbers)

    told = said(with_latest("11-03", latest_loss_percent=6.2))
    assert "Nov 3 is the latest sowing that reaches it with a chance of 80 percent" in told
    assert "each week of delay takes 6 percent off the chance" in told
    assert "By weather alone the latest is Nov 20." in told
    assert "hardly changes the chance" in said(with_latest("11-03", latest_loss_percent=0.3))
    told = said(with_latest("", "", best_chance_percent=71.4))
    assert "no sowing from Sep 1 to Jan 15 reaches it with a chance of 80 percent" in told
    assert "the best chance is 71 percent, sown about Oct 2. By weather alone there is none" in told
    told = said(with_latest("01-15", "01-15"))
    assert "even the last sowing tried, Jan 15, reaches it" in told
    assert "By weather alone even Jan 15 does" in told
    assert "with a chance of 90 percent" in said(replace(with_latest("11-03"), often=0.9))


def test_nitrate_is_held_against_the_limit(here: Risk) -> None:
    def with_strength(values: list[float]) -> str:
        strength = here.table["nitrate_concentration_mg_l"].copy()
        strength[:] = np.array(values).reshape(1, 2, 1, 1, 1, 1)
        return said(with_biomass(here, 1.0, nitrate_concentration_mg_l=strength))

    assert "carries 4 to 6 mg/L of nitrate nitrogen, below the limit" in with_strength([4, 6])
    assert "12 to 20 mg/L of nitrate nitrogen, above the limit" in with_strength([20, 12])
    assert "least sown on Dec 8" in with_strength([20, 12])
    assert "on either side of the limit" in with_strength([8, 12])


def test_kinds_are_said_with_their_doubt(here: Risk) -> None:
    years = here.grid["year"].values
    kinds = {int(year): "wet" if year % 2 else "dry" for year in years}
    groups = groups_of(years.tolist(), kinds, None)
    odd = xr.where(here.grid["year"] % 2 == 1, 9000.0, 100.0)
    for biomass, words in (
        (
            odd,
            "the intervals of the falls lie apart",
        ),
        (odd * 0 + 9000.0, "the kind of year makes no difference"),
        (here.grid["year"] * 0 + np.where(np.arange(30) < 3, 9000.0, 100.0), "overlap"),
    ):
        made = here.grid.assign(biomass_kg_ha=here.grid["biomass_kg_ha"] * 0 + biomass)
        table = chances(made, here.target, groups).assign(
            {
                name: here.table[name].squeeze("kind", drop=True)
                for name in here.table.data_vars
                if str(name).startswith(("latest", "best", "weather_latest"))
            }
        )
        for name in table.data_vars:
            table[name] = table[name].broadcast_like(table["falls"])
        assert words in said(replace(here, grid=made, table=table, groups=groups))


@pytest.mark.analytic("corners of a step curve: a share of falls with at least so much biomass")
def test_the_curve_counts_falls(here: Risk) -> None:
    rows = [row for row in risk_data.curve_rows(here, "si") if row["sown"] == "Oct 20"]
    values = here.grid["biomass_kg_ha"].squeeze().sel(sow="10-20").values
    falls = [row for row in rows if row["of"] == risk_data.FALLS]
    assert len(falls) == values.size + 2
    for row in falls[1:-1]:
        made = (values >= row["biomass"] - 1e-6).mean()
        assert row["percent"] == pytest.approx(100 * made)
    field = [row for row in rows if row["of"] == risk_data.FIELD]
    assert [field[0]["percent"], len(field)] == [100, risk_data.CORNERS]
    for row in field[1:]:
        made = chance_in_fields(values, row["biomass"])
        assert row["percent"] == pytest.approx(100 * made)


# --- the command ---


def test_without_options_it_answers() -> None:
    told = prose()
    assert "Target: 4,000 lb/ac." in told
    assert "30 falls, 1995 to 2024" in told
    assert "A model's answer is not a recommendation" in told
    assert "setbacks from water" in told


def test_rows_and_inputs_of_json(tmp_path: Path) -> None:
    out = tmp_path / "risk.csv"
    result = run("--json", *SMALL, "--weights", "wet 50, normal 30, dry 20", "--out", str(out))
    answer = json.loads(result.stdout)
    assert answer["command"] == "risk"
    assert answer["inputs"]["target_kg_ha"] == pytest.approx(4000 * 1.120847, abs=0.01)
    assert answer["inputs"]["weights"] == "wet 50, normal 30, dry 20"
    kinds = {row["kind"] for row in answer["rows"]}
    assert kinds == {"all falls", "wet", "normal", "dry", "forecast"}
    assert len(answer["rows"]) == 5 * 2 * 2
    assert answer["units"]["chance_percent"] == "percent"
    assert answer["rows"][0]["site"] == "Tallow Bend"
    text = out.read_text()
    assert "weather_chance_low_percent" in text
    assert "target_kg_ha" in text


def test_netcdf_and_charts(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("risk.nc", "risk.svg")]
    assert run(*SMALL, "--out", str(files[0]), "--chart", str(files[1])).exit_code == 0
    with xr.open_dataset(files[0]) as data:
        assert data["chance_percent"].attrs["units"] == "percent"
    assert "4,000 lb/ac" in files[1].read_text()


def test_several_places_and_one_that_fails(tmp_path: Path) -> None:
    short = tmp_path / "short.csv"
    sample_weather().sel(time=slice("2001-08-01", "2003-07-31")).to_dataframe().to_csv(
        short, index_label="date", header=["tmax (degC)", "tmin (degC)", "rain (mm)"]
    )
    arguments = ["--weather", "tallow-bend", "--weather", "sorrel-ledge", *SMALL]
    told = prose(*arguments, "--weather", str(tmp_path), "--latitude", "33")
    assert "The places beside each other" in told
    assert "Sorrel Ledge: With 60 lb/ac" in told
    assert "short.csv: weather of short: A chance needs at least 5 falls; the weather has 2" in told
    answer = json.loads(run(*arguments, "--json").stdout)
    assert {row["site"] for row in answer["rows"]} == {"Tallow Bend", "Sorrel Ledge"}
    refused("--weather", str(short), "--latitude", "33", says="A chance needs at least 5 falls")


def test_the_nino_index_sorts_falls(open_data: Path) -> None:
    index = str(open_data / "enso" / "oni.ascii.txt")
    told = prose(*SMALL, "--target", "3500 lb/acre", "--kinds", index)
    assert "la nina" in told
    assert "kinds of real years do not fit them" in told
    assert "Sown on Oct 20" in told


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--target", "4000"], "--target: '4000' has no unit"),
        (["--target", "1 lb/acre"], "--target: '1 lb/acre' is out of range"),
        (["--end", "4000 lb/acre"], "--end: '4000 lb/acre' is a biomass"),
        (["--weights", "wet 50, dry 20"], "--weights: The chances add up to 70"),
        (["--weights", ""], "--weights: '' is not a kind and its chance"),
        (["--kinds", ""], "--kinds: '' is neither a file nor a way"),
        (["--kinds", "fall", "--kinds-season", "XYZ"], "--kinds-season: 'XYZ' is not a season"),
        (["--chance", "100"], "--chance"),
        (["--weights", "soggy 100"], "There is no kind 'soggy'"),
        (["--kinds", "fall snow"], "neither a file nor a way to sort years"),
        (["--years", "2001:2003"], "A chance needs at least 5 falls; the weather has 3"),
        (["--weather", "tallow-bend", "--weather", "tallow-bend"], "tallow-bend is named twice"),
        (["--weather", "nowhere.csv"], "nowhere.csv"),
        (["--chart", "x.gif"], "--chart: 'x.gif' does not end in"),
    ],
)
def test_what_cannot_be_answered(arguments: list[str], says: str) -> None:
    refused(*arguments, says=says)


def test_an_empty_folder(tmp_path: Path) -> None:
    refused("--weather", str(tmp_path), says="has no weather files")


def test_a_list_that_does_not_match(tmp_path: Path) -> None:
    path = tmp_path / "kinds.csv"
    path.write_text("year,kind\n1901,wet\n1902,dry\n")
    refused("--kinds", str(path), says="None of its years (1901 to 1902) is among the falls")
