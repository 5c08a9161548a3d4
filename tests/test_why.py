"""What made a year differ: shares that add up, and constructed years told apart."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise, permutations
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import simulator
from simulator.answers.why import exchanged_weather, month_shares
from simulator.answers.why.calculate import Why, why
from simulator.answers.why.causes import LITTLE, weather_of
from simulator.answers.why.chart import chart as why_chart
from simulator.answers.why.chart import effect_rows, end_rows
from simulator.answers.why.data import dataset
from simulator.answers.why.exchanged_weather import RAIN, TEMPERATURE, WHATS
from simulator.answers.why.month_shares import BIOMASS, LEACHED, OUTCOMES, RESPONSE
from simulator.answers.why.months import Month
from simulator.answers.why.shapley import drawn_orders, sets_along, shapley, shapley_along
from simulator.answers.why.table import month_table
from simulator.answers.why.words import other_ways, sentences
from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.weather.fall_year import season_day
from simulator.weather.record import fill_short_gaps, make_record

ODD = 2002  # the year that is changed
YEARS = range(2001, 2007)  # only the season of 2003 has a 29 February


@pytest.fixture(autouse=True)
def _fewer_orders(monkeypatch: pytest.MonkeyPatch) -> None:
    """Draw fewer orders than an answer does: what is tested here holds for any number."""
    monkeypatch.setattr(month_shares, "DRAWN", 1300)


# --- Shapley's value ---


def worth_of(pieces: int, worth: object) -> np.ndarray:
    """Worth of every set of pieces by a function of the set's members."""
    return np.array(
        [
            worth([p for p in range(pieces) if k >> p & 1])  # type: ignore[operator]
            for k in range(2**pieces)
        ],
        dtype=float,
    )


@pytest.mark.published(
    "Littlechild and Owen (1973), Management Science 20: 370-372; the runway of 8, 11, 13 and 18 "
    "that encyclopedias print with their rule, 2, 3, 4 and 9"
)
def test_a_runway_is_paid_as_its_rule_says() -> None:
    cost = (8.0, 11.0, 13.0, 18.0)
    shares = shapley(worth_of(4, lambda who: max((cost[p] for p in who), default=0.0)))
    # each stretch shared by those who need it: 8/4, + 3/3, + 2/2, + 5/1
    assert shares == pytest.approx([2.0, 3.0, 4.0, 9.0], abs=1e-12)


@pytest.mark.published(
    "Gonit Sora, 'Is it me, or is veto starting to sound really good': Security Council of 15, "
    "4/2145 (0.19 percent) for each of ten members and 19.6 percent for each of five"
)
def test_power_in_the_security_council() -> None:
    shares = shapley(worth_of(15, lambda who: len(who) >= 9 and set(range(5)) <= set(who)))
    assert shares[:5] == pytest.approx(421 / 2145, abs=1e-12)
    assert shares[5:] == pytest.approx(4 / 2145, abs=1e-12)


@pytest.mark.analytic("the axioms: efficiency, null piece, symmetry, additivity")
@given(st.lists(st.floats(-1e4, 1e4), min_size=16, max_size=16))
def test_axioms(values: list[float]) -> None:
    game = np.array(values)
    shares = shapley(game)
    assert shares.sum() == pytest.approx(game[-1] - game[0], abs=1e-9)
    with_null = np.concatenate([game, game])  # a fifth piece that never adds anything
    assert shapley(with_null)[4] == 0.0
    assert shapley(with_null)[:4] == pytest.approx(shares, abs=1e-8)
    swap = [(k & 12) | (k & 1) << 1 | (k & 2) >> 1 for k in range(16)]
    assert shapley(game[swap])[[1, 0, 2, 3]] == pytest.approx(shares, abs=1e-8)
    both = shapley(np.stack([game, game[swap], game + game[swap]], axis=1))
    assert both[:, 2] == pytest.approx(both[:, 0] + both[:, 1], abs=1e-8)


def test_sets_that_are_no_power_of_two_are_refused() -> None:
    with pytest.raises(ValueError, match="no power of two"):
        shapley(np.zeros(6))


@pytest.mark.analytic("over all orders the mean of what a piece adds is Shapley's value")
@given(st.lists(st.floats(-1e4, 1e4), min_size=16, max_size=16))
def test_all_orders_give_the_value_of_all_sets(values: list[float]) -> None:
    game, orders = np.array(values), np.array(list(permutations(range(4))))
    assert shapley_along(orders, game[sets_along(orders)]) == pytest.approx(shapley(game), abs=1e-9)


@pytest.mark.analytic("turned round and reversed, each piece comes as often at every place")
def test_drawn_orders_are_balanced() -> None:
    orders = drawn_orders(16, 64)
    assert all(sorted(order) == list(range(16)) for order in orders.tolist())
    assert (orders[1::2] == orders[::2, ::-1]).all()
    for place in range(16):
        assert np.bincount(orders[:, place], minlength=16).tolist() == [4] * 16
    assert (drawn_orders(16, 64) == orders).all()


# --- constructed years ---


@pytest.fixture(scope="module")
def same() -> xr.Dataset:
    """A record in which every season has the weather of one sample season, a mild wet one."""
    sample = simulator.sample_weather()
    days = np.arange(season_day(YEARS[0], "07-01"), season_day(YEARS[-1] + 1, "07-01"))
    picked = []
    for day in map(str, days):
        month_day = day[5:] if day[5:] != "02-29" else "02-28"
        picked.append(season_day(2004, month_day))  # of the sample, all days alike by date
    times = sample["time"].values.astype("datetime64[D]")
    place = (np.array(picked) - times[0]).astype(int)
    columns = {name: sample[name].values[place] for name in ("tmax", "tmin", "rain")}
    for at in np.flatnonzero([str(day)[5:] == "02-29" for day in days]):
        for values in columns.values():
            values[at] = 0.5 * (values[at - 1] + values[at + 1])
        columns["rain"][at] = 0.0
    return make_record(days, site="Samewell", latitude=31.6, invented="yes", **columns)


def with_odd(same: xr.Dataset, *changes: str, year: int = ODD) -> xr.Dataset:
    """Change the weather of one season only."""
    changed = simulator.change_weather(same, *changes)
    days = same["time"].values.astype("datetime64[D]")
    inside = (days >= season_day(year, "07-01")) & (days < season_day(year + 1, "07-01"))
    return same.assign({name: same[name].where(~inside, changed[name]) for name in same})


def shares(found: Why, outcome: str) -> dict[str, float]:
    return {
        f"{month.name} {what}": float(found.shares[outcome][at, k])
        for at, month in enumerate(found.months)
        for k, what in enumerate(WHATS)
    }


WET = ("rain november = 11 inch",)
COOL_DRY = ("temperature sep..nov - 6 degF", "rain sep..nov * 0.25")
FALL = ("September", "October", "November")


@pytest.mark.analytic("a piece that does not differ gets exactly 0, the others the whole")
@pytest.mark.parametrize(
    ("changes", "differ"),
    [
        (WET, ["November rain"]),
        (COOL_DRY, [f"{month} {what}" for month in FALL for what in WHATS]),
        (("temperature december - 8 degF",), ["December temperature"]),
        (("rain december = 9 inch", "rain march + 2 inch"), ["December rain", "March rain"]),
        (("tmax march + 5 degF",), ["March temperature"]),
    ],
)
@pytest.mark.parametrize("year", [2002, 2003])  # without and with a 29 February
def test_only_what_differs_has_a_share(
    same: xr.Dataset, changes: tuple[str, ...], differ: list[str], year: int
) -> None:
    found = why(with_odd(same, *changes, year=year), year=year)
    for outcome in OUTCOMES:
        by_piece = shares(found, outcome)
        assert all(share == 0.0 for piece, share in by_piece.items() if piece not in differ)
        assert sum(by_piece.values()) == pytest.approx(found.difference(outcome), abs=1e-9)
        if len(differ) == 1:  # then the month changed alone is the whole
            at = [month.name for month in found.months].index(differ[0].split()[0])
            assert found.by_itself[outcome][at] == pytest.approx(
                found.difference(outcome), abs=1e-9
            )
    assert found.difference(BIOMASS) != 0.0


@pytest.mark.practice("common practice, no source: the two falls that cost nitrogen and growth")
def test_a_wet_fall_and_a_cool_dry_fall_are_told_apart(same: xr.Dataset) -> None:
    wet = why(with_odd(same, *WET), year=ODD)
    cool = why(with_odd(same, *COOL_DRY), year=ODD)
    assert shares(wet, RESPONSE)["November rain"] < -500.0
    assert wet.lost[0] > wet.lost[1] + 10.0
    assert shares(wet, LEACHED)["November rain"] > 10.0
    assert sum(shares(cool, BIOMASS)[f"{month} temperature"] for month in FALL) < -200.0
    assert cool.lost[0] <= cool.lost[1]
    assert sum(shares(cool, LEACHED)[f"{month} rain"] for month in FALL) < 0.0
    told_wet, told_cool = (" ".join(sentences(found, "us")) for found in (wet, cool))
    assert "November made most of the difference: its rain (11.0 in, usually" in told_wet
    assert "Of the 60 lb/ac of nitrogen" in told_wet
    assert "leached by Christmas, usually" in told_wet
    assert "cool" not in told_wet
    assert "cool weather (6.0 °F below usual) cost" in told_cool
    assert "November's rain" not in told_cool


@pytest.mark.analytic("of two pieces each gets the mean of joining first and joining last")
def test_two_pieces_by_hand(same: xr.Dataset) -> None:
    cool, wet = "temperature december - 5 degF", "rain november = 9 inch"
    found = why(with_odd(same, cool, wet), year=ODD)

    def biomass(*changes: str) -> float:
        plan = simulator.Plan(nitrogen="60 lb/acre")
        weather = with_odd(same, *changes) if changes else same
        return float(simulator.run_season(weather, plan, year=ODD)["biomass_kg_ha"][-1])

    none, both = biomass(), biomass(cool, wet)
    first = 0.5 * (biomass(cool) - none + both - biomass(wet))
    assert shares(found, BIOMASS)["December temperature"] == pytest.approx(first, abs=1e-9)
    assert shares(found, BIOMASS)["November rain"] == pytest.approx(both - none - first, abs=1e-9)
    assert found.here[BIOMASS] == pytest.approx(both, abs=1e-9)


# --- on sample weather ---


@pytest.fixture(scope="module")
def sample() -> xr.Dataset:
    return simulator.sample_weather()


def test_shares_add_up_and_the_year_is_the_one_that_season_grows(sample: xr.Dataset) -> None:
    found = why(sample, year=2011)
    assert len(found.others) == 29
    for outcome in OUTCOMES:
        whole = found.here[outcome] - found.usual[outcome].mean()
        assert found.shares[outcome].sum() == pytest.approx(whole, abs=1e-9)
    grid = compare(sample, sow="10-20", nitrogen="0,60 lb/acre").squeeze(drop=True)
    none, some = grid["biomass_kg_ha"].sel(year=2011).values
    assert found.here[BIOMASS] == some
    assert found.here[RESPONSE] == pytest.approx(some - none, abs=1e-9)
    assert found.here[LEACHED] == grid["nitrate_leached_kg_ha"].sel(year=2011).values[1]
    # other falls keep their own calendar where it has as many days
    same_length = [year for year in found.others if exchanged_weather._leap(year)]
    at = [found.others.index(year) for year in same_length]
    expected = grid["biomass_kg_ha"].sel(year=same_length).values[:, 1]
    assert found.usual[BIOMASS][at] == pytest.approx(expected, abs=1e-9)
    # and hardly differ where it has not
    rest = [year for year in found.others if not exchanged_weather._leap(year)]
    expected = grid["biomass_kg_ha"].sel(year=rest).values[:, 1].mean()
    at = [found.others.index(year) for year in rest]
    assert found.usual[BIOMASS][at].mean() == pytest.approx(expected, rel=0.02)


def test_without_a_year_the_furthest_out_is_taken(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET, year=2004))
    assert (found.year, found.chosen) == (2004, True)


def test_a_season_keeps_its_rain_on_another_calendar() -> None:
    season = np.arange(3 * 366, dtype=float).reshape(3, 366)
    shorter = exchanged_weather._on_calendar(season, True, False)
    assert np.nansum(shorter[2]) == season[2].sum()
    assert (shorter[0, 243], shorter[0, 242]) == (season[0, 244], season[0, 242])
    longer = exchanged_weather._on_calendar(shorter, False, True)
    assert longer[2, 243] == 0.0
    assert longer[0, 243] == 0.5 * (season[0, 242] + season[0, 244])
    assert longer[:2, 244:] == pytest.approx(season[:2, 244:])


def test_years_whose_weather_begins_later_are_left_out(same: xr.Dataset) -> None:
    gap = same.copy(deep=True)
    days = gap["time"].values.astype("datetime64[D]")
    gone = (days >= season_day(2005, "09-01")) & (days < season_day(2005, "10-01"))
    gap["rain"].values[gone] = np.nan
    found = why(gap, year=ODD)
    assert 2005 not in found.others
    assert any(text.startswith("2005: its weather begins on 2005-10-01") for text in found.left_out)
    late = why(gap, year=2005)
    assert len(late.others) == 5
    assert (late.months[0].first, late.months[0].last) == ("10-01", "10-31")


@pytest.mark.analytic("orders drawn come near to all orders")
def test_drawn_orders_come_near_to_all(sample: xr.Dataset, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {"year": 2018, "years": range(2012, 2020), "end": "12-20"}  # 8 pieces
    monkeypatch.setattr(month_shares, "DRAWN", 2600)
    every = why(sample, **asked)
    monkeypatch.setattr(month_shares, "DRAWN", 800)
    drawn = why(sample, **asked)
    assert drawn.grown < every.grown
    for outcome in OUTCOMES:
        largest = np.abs(every.shares[outcome]).max()
        assert not np.array_equal(drawn.shares[outcome], every.shares[outcome])
        assert drawn.shares[outcome] == pytest.approx(every.shares[outcome], abs=0.1 * largest)
        assert drawn.by_itself[outcome] == pytest.approx(every.by_itself[outcome], abs=1e-9)


# --- a month changed alone ---


def seasons_of(record: xr.Dataset, year: int) -> xr.Dataset:
    """Cut one season out of a record."""
    days = record["time"].values.astype("datetime64[D]")
    inside = (days >= season_day(year, "07-01")) & (days < season_day(year + 1, "07-01"))
    return record.isel(time=inside)


def biomass_of(record: xr.Dataset, year: int) -> float:
    season = simulator.run_season(record, simulator.Plan(nitrogen="60 lb/acre"), year=year)
    return float(season["biomass_kg_ha"].sel(time=f"{year + 1}-04-15"))


@pytest.mark.analytic("with one other fall, a month changed alone is that fall's month put in")
def test_a_month_is_exchanged_for_the_other_falls(sample: xr.Dataset) -> None:
    found = why(sample, year=2010, years=[2010, 2013])  # neither has a 29 February
    days = sample["time"].values.astype("datetime64[D]")

    def of_month(year: int, month: Month) -> np.ndarray:
        last = "04-30" if month.name == "April" else month.last  # what follows the end goes along
        return (days >= season_day(year, month.first)) & (days <= season_day(year, last))

    for at, month in enumerate(found.months):
        put = sample.copy(deep=True)
        for name in ("tmax", "tmin", "rain"):
            put[name].values[of_month(2010, month)] = sample[name].values[of_month(2013, month)]
        changed = found.here[BIOMASS] - biomass_of(put, 2010)
        assert found.by_itself[BIOMASS][at] == pytest.approx(changed, abs=1e-6), month.name


def usual_totals(season: xr.Dataset, month: Month, what: str = "") -> xr.Dataset:
    """Bring a month to the usual rain and mean temperature, as a what-if of the command does."""
    span = f"{month.first}..{month.last}"
    apart = month.temperature[1] - month.temperature[0]
    changes = {
        RAIN: f"rain {span} = {month.rain[1]:.9f} mm",
        TEMPERATURE: f"temperature {span} {'+' if apart > 0 else '-'} {abs(apart):.9f} degC",
    }
    return simulator.change_weather(season, *([changes[what]] if what else changes.values()))


def months_hold(record: xr.Dataset, year: int, **asked: object) -> int:
    """Hold a year's months against the same months changed alone; return how many went along."""
    found = why(record, year=year, **asked)  # type: ignore[arg-type]
    season = seasons_of(fill_short_gaps(record), year)
    assert found.by_month(BIOMASS).sum() == pytest.approx(found.difference(BIOMASS), abs=1e-9)
    assert biomass_of(season, year) == pytest.approx(found.here[BIOMASS], abs=1e-6)
    named, went_along = " ".join(other_ways(found, "us")), 0
    for at, month in enumerate(found.months):
        share, alone = (
            values[at] for values in (found.by_month(BIOMASS), found.by_itself[BIOMASS])
        )
        whatif = found.here[BIOMASS] - biomass_of(usual_totals(season, month), year)
        assert whatif == pytest.approx(found.totals[BIOMASS][at], abs=0.01)
        if at == np.argmax(np.abs(found.by_month(BIOMASS))):
            for k, what in enumerate(WHATS):
                by = found.here[BIOMASS] - biomass_of(usual_totals(season, month, what), year)
                assert by == pytest.approx(found.totals_by[BIOMASS][at, k], abs=0.01)
        for changed in (alone, whatif):
            along = share * changed >= 0 or max(abs(share), abs(changed)) < LITTLE[BIOMASS]
            assert along or f"{month.name} (share" in named, (year, month.name)
            went_along += along
    assert named in " ".join(sentences(found, "us"))
    return went_along


@pytest.mark.analytic("a month changed alone goes as its share, or the answer names it")
def test_months_of_the_sample_do_as_their_shares_say(sample: xr.Dataset) -> None:
    held = [months_hold(sample, year) for year in (1999, 2006, 2009, 2012, 2021)]
    assert sum(held) > 55  # of 80


@pytest.mark.analytic("a month changed alone goes as its share, or the answer names it")
@pytest.mark.filterwarnings("ignore::UserWarning")
def test_months_of_a_station_do_as_their_shares_say(open_data: Path) -> None:
    path = open_data / "weather" / "belle_mina_2003_2012.csv"
    station = simulator.read_weather(path, latitude=34.7)
    held = [months_hold(station, year) for year in (2003, 2004, 2005, 2009, 2010)]
    assert sum(held) > 55


# --- sentences ---


def test_sentences_change_with_the_numbers(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET), year=ODD)
    lost = " ".join(sentences(found, "si"))
    assert f"Of the 67 kg/ha of nitrogen {found.lost[0]:.0f} leached by Christmas" in lost
    assert "rain (279 mm, usually" in lost
    assert "less by Apr 15 than usual" in lost
    means = {name: float(values.mean()) for name, values in found.usual.items()}
    gained = replace(
        found,
        here={name: 3.0 * value for name, value in means.items()},
        shares={name: -values for name, values in found.shares.items()},
        totals_by={name: -values for name, values in found.totals_by.items()},
        lost=(1.0, 30.0),
    )
    told = " ".join(sentences(gained, "si"))
    assert "more by Apr 15 than usual" in told
    assert "its rain (279 mm, usually" in told
    assert "brought" in told.split(" made most of the difference: ")[1].split(".")[0]
    assert "Of the 67 kg/ha of nitrogen 1 leached by Christmas, usually 30." in told


def test_a_difference_within_the_error_cannot_be_told(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET), year=ODD)
    usual = float(found.usual[BIOMASS].mean())
    reach = found.errors.response.reach(0.8) * found.errors.response.rmse
    for apart, can_tell in ((0.9 * reach, False), (-0.9 * reach, False), (1.1 * reach, True)):
        moved = replace(found, here={**found.here, BIOMASS: usual + apart})
        told = " ".join(sentences(moved, "us"))
        assert moved.ranges(BIOMASS).is_clear is can_tell
        assert ("The model cannot tell whether" in told) is not can_tell
        assert told.startswith("By the model, in") is not can_tell
    sharper = replace(found.errors, response=replace(found.errors.response, rmse=1.0))
    known = replace(found, here={**found.here, BIOMASS: usual + 60.0}, errors=sharper)
    assert "cannot tell whether" not in " ".join(sentences(known, "us"))


def test_months_that_do_otherwise_alone_are_named(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET), year=ODD)
    assert other_ways(found, "us") == []
    turned = {name: -values for name, values in found.by_itself.items()}
    assert (
        "With one month's weather changed" in other_ways(replace(found, by_itself=turned), "us")[0]
    )
    by_days = replace(found, totals={name: -values for name, values in found.totals.items()})
    assert "November (share -" in other_ways(by_days, "us")[0]
    turned = {name: -values for name, values in found.totals_by.items()}
    told = sentences(replace(found, totals_by=turned), "us")[0]
    assert "the days its rain fell on (11.0 in, usually" in told


def test_causes_are_named_by_what_stood_out() -> None:
    def named(here: float, usual: float, what: str = RAIN) -> str:
        rain, temperature = ((here, usual), (15.0, 15.0))
        if what == TEMPERATURE:
            rain, temperature = temperature, rain
        month = Month("November", "11-01", "11-30", temperature, rain)
        return weather_of(month, what, "si", whose="November's")

    assert named(280, 90) == "November's rain (280 mm, usually 90 mm)"
    assert named(9, 90) == "November's dry weather (9 mm of rain, usually 90 mm)"
    assert named(91, 90) == "the days November's rain fell on (91 mm, usually 90 mm)"
    assert named(12, 10, TEMPERATURE) == "November's warm weather (2.0 °C above usual)"
    assert named(8, 10, TEMPERATURE) == "November's cool weather (2.0 °C below usual)"
    assert named(10.2, 10, TEMPERATURE) == (
        "November's warm and cold spells (on average 0.2 °C above usual)"
    )


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_table_says_what_the_shares_say(sample: xr.Dataset, system: str) -> None:
    found = why(sample, year=2012)
    columns, rows = month_table(found, system)  # type: ignore[arg-type]
    assert [row[0] for row in rows] == [month.name[:3] for month in found.months] + ["all"]
    assert all(len(row) == len(columns) for row in rows)
    factor = 1.0 if system == "si" else simulator.units.show(1.0, "biomass", "us")
    for row, share, alone in zip(
        rows, found.shares[BIOMASS], found.by_itself[BIOMASS], strict=False
    ):
        made = [*share, share.sum(), alone]
        assert list(map(float, row[3:7])) == pytest.approx([factor * v for v in made], abs=5.001)


# --- the command ---


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["why", *arguments], catch_exceptions=False)


def test_the_rows_add_up_to_the_differences() -> None:
    told = json.loads(run("--json", "--year", "2009").stdout)
    assert told["command"] == "why"
    months = [row["month"][:3] for row in told["rows"]]
    assert months == ["Sep", "Oct", "Nov", "Dec", "Jan", "Feb", "Mar", "Apr"]
    for field, whole in told["differences"].items():
        name = field.replace("_kg_ha", "_share")
        assert sum(row[f"{name}_kg_ha"] for row in told["rows"]) == pytest.approx(
            whole["difference"], abs=1e-9
        )
        for row in told["rows"]:
            parts = [row[f"{name}_by_{what}_kg_ha"] for what in WHATS]
            assert sum(parts) == pytest.approx(row[f"{name}_kg_ha"], abs=1e-9)
        assert whole["year"] - whole["usual"] == pytest.approx(whole["difference"], abs=1e-9)
    assert told["rows"][0]["first_day"] == "09-01"
    assert told["rows"][-1]["last_day"] == "04-15"
    biomass = told["differences"]["biomass_kg_ha"]
    assert biomass["difference_low"] < biomass["difference"] < biomass["difference_high"]
    assert "difference_low" not in told["differences"]["nitrate_leached_kg_ha"]
    assert 2009 not in told["compared_with"]
    assert any("invented place" in text for text in told["cautions"])


@pytest.mark.parametrize("sample", list(simulator.samples()))
def test_every_sample_is_answered(sample: str, tmp_path: Path) -> None:
    out = tmp_path / "why.csv"
    result = run("--weather", sample, "--years", "2015:2024", "--out", str(out))
    assert result.exit_code == 0, result.stderr
    assert "other falls, from Sep 1 to Apr 15." in " ".join(result.stdout.split())
    assert "biomass_share_by_rain_kg_ha" in out.read_text()


def test_the_chart_says_that_a_place_is_invented(tmp_path: Path) -> None:
    chart = tmp_path / "why.svg"
    assert run("--years", "2015:2024", "--chart", str(chart)).exit_code == 0
    assert "Invented place" in chart.read_text()


def test_stations_are_answered(open_data: Path) -> None:
    for name, more in (
        ("belle_mina_2003_2012", ()),
        ("headland_winters_2005_2007", ("--sow", "11-05")),
        ("prattville_winters_2003_2005_2006", ("--sow", "11-05")),
    ):
        station = str(open_data / "weather" / f"{name}.csv")
        result = run("--weather", station, "--latitude", "32", *more)
        assert result.exit_code == 0, result.stderr
        assert "What is usual rests on" in result.stdout


def test_without_nitrogen_no_response_is_told() -> None:
    told = run("--nitrogen", "0 lb/acre", "--year", "2009").stdout
    assert "nitrogen response" not in told
    assert "nutrient management plan" not in told


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--year", "1980"], "1980"),
        (["--end", "zadoks 61"], "is not a date"),
        (["--years", "2009", "--year", "2009"], "no other fall"),
        (["--sow", "10-20,11-05"], "several values"),
        (["--chart", "why.gif"], "does not end in"),
    ],
)
def test_faults_end_with_a_message(arguments: list[str], message: str, tmp_path: Path) -> None:
    out = tmp_path / "why.csv"
    result = run(*arguments, "--out", str(out))
    assert result.exit_code == 2
    assert message in result.stderr
    assert not out.exists()


@pytest.mark.parametrize("system", ["us", "si"])
def test_the_chart_and_the_rows_carry_the_same_shares(sample: xr.Dataset, system: str) -> None:
    found = why(sample, year=2009, years=range(2004, 2012))
    rows = [
        row
        for rows in why_chart(found, system).to_dict()["datasets"].values()  # type: ignore[arg-type]
        for row in rows
        if "by" in row
    ]
    factor = 1.0 if system == "si" else simulator.units.show(1.0, "biomass", "us")
    data = dataset(found)
    for field in ("biomass", "nitrogen_response", "nitrate_leached"):
        for month in map(str, data["month"].values):
            for what in WHATS:
                share = factor * float(data[f"{field}_share_by_{what}_kg_ha"].sel(month=month))
                assert any(
                    (row["month"], row["by"]) == (month[:3], what)
                    and row["moved"] == pytest.approx(share, abs=1e-9)
                    for row in rows
                ), (field, month, what)
    steps = effect_rows(found, BIOMASS, system)  # type: ignore[arg-type]
    usual, here = end_rows(found, BIOMASS, system)  # type: ignore[arg-type]
    assert steps[0]["start"] == usual["value"]
    assert steps[-1]["stop"] == pytest.approx(here["value"], abs=1e-6)
    assert all(a["stop"] == pytest.approx(b["start"]) for a, b in pairwise(steps))
    sizes = [abs(a["moved"] + b["moved"]) for a, b in zip(steps[::2], steps[1::2], strict=True)]
    assert sizes == sorted(sizes, reverse=True), "what moved biomass most comes first"


def test_ends_are_dates(sample: xr.Dataset) -> None:
    with pytest.raises(InputError):
        why(sample, year=2009, end="4000 lb/acre")
