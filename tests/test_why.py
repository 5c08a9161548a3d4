"""What made a year differ: shares that add up, and constructed years told apart."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import simulator
from simulator.answers.why import exchanged
from simulator.answers.why.calculate import BIOMASS, LEACHED, OUTCOMES, RESPONSE, Why, why
from simulator.answers.why.chart import chart as why_chart
from simulator.answers.why.data import dataset
from simulator.answers.why.exchanged import PIECES
from simulator.answers.why.months import Month
from simulator.answers.why.shapley import shapley
from simulator.answers.why.words import cause, sentences
from simulator.commands import fallsown
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.weather.record import make_record, season_day

ODD = 2002  # the year that is changed
YEARS = range(2001, 2007)  # only the season of 2003 has a 29 February


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
    return {piece: found.share(outcome, piece) for piece in PIECES}


WET = ("rain november = 11 inch",)
COOL_DRY = ("temperature sep..nov - 6 degF", "rain sep..nov * 0.25")


@pytest.mark.analytic("a piece that does not differ gets exactly 0, the others the whole")
@pytest.mark.parametrize(
    ("changes", "differ"),
    [
        (WET, ["fall rain"]),
        (COOL_DRY, ["fall temperature", "fall rain"]),
        (("temperature dec..feb - 8 degF",), ["winter temperature"]),
        (("rain december = 9 inch", "rain march + 2 inch"), ["winter rain", "spring rain"]),
        (("tmax march + 5 degF",), ["spring temperature"]),
    ],
)
@pytest.mark.parametrize("year", [2002, 2003])  # without and with a 29 February
def test_only_what_differs_has_a_share(
    same: xr.Dataset, changes: tuple[str, ...], differ: list[str], year: int
) -> None:
    found = why(with_odd(same, *changes, year=year), year=year)
    for outcome in OUTCOMES:
        by_piece = shares(found, outcome)
        assert all(by_piece[piece] == 0.0 for piece in PIECES if piece not in differ)
        assert sum(by_piece.values()) == pytest.approx(found.difference(outcome), abs=1e-9)
    if len(differ) == 1:
        assert shares(found, BIOMASS)[differ[0]] == pytest.approx(
            found.difference(BIOMASS), abs=1e-9
        )
        assert found.difference(BIOMASS) != 0.0


@pytest.mark.practice("common practice, no source: the two falls that cost nitrogen and growth")
def test_a_wet_fall_and_a_cool_dry_fall_are_told_apart(same: xr.Dataset) -> None:
    wet = why(with_odd(same, *WET), year=ODD)
    cool = why(with_odd(same, *COOL_DRY), year=ODD)
    assert shares(wet, RESPONSE)["fall rain"] < -500.0
    assert wet.lost[0] > wet.lost[1] + 10.0
    assert shares(wet, LEACHED)["fall rain"] > 10.0
    assert shares(cool, BIOMASS)["fall temperature"] < -200.0
    assert cool.lost[0] <= cool.lost[1]
    assert shares(cool, LEACHED)["fall rain"] < 0.0
    told_wet, told_cool = (" ".join(sentences(found, "us")) for found in (wet, cool))
    assert "November's rain (11.0 in, usually" in told_wet
    assert "of the 60 lb/ac of nitrogen leached by Christmas, usually" in told_wet
    assert "cool" not in told_wet
    assert "the cool fall (6.0 °F below usual)" in told_cool.replace("The cool", "the cool")
    assert "November's rain" not in told_cool


@pytest.mark.analytic("of two pieces each gets the mean of joining first and joining last")
def test_two_pieces_by_hand(same: xr.Dataset) -> None:
    cool, wet = "temperature dec..feb - 5 degF", "rain november = 9 inch"
    found = why(with_odd(same, cool, wet), year=ODD)

    def biomass(*changes: str) -> float:
        plan = simulator.Plan(nitrogen="60 lb/acre")
        weather = with_odd(same, *changes) if changes else same
        return float(simulator.run_season(weather, plan, year=ODD)["biomass_kg_ha"][-1])

    none, both = biomass(), biomass(cool, wet)
    first = 0.5 * (biomass(cool) - none + both - biomass(wet))
    assert shares(found, BIOMASS)["winter temperature"] == pytest.approx(first, abs=1e-9)
    assert shares(found, BIOMASS)["fall rain"] == pytest.approx(both - none - first, abs=1e-9)
    assert found.here[BIOMASS] == pytest.approx(both, abs=1e-9)


# --- on sample weather ---


@pytest.fixture(scope="module")
def sample() -> xr.Dataset:
    return simulator.sample_weather()


def test_shares_add_up_and_the_year_is_the_one_that_season_grows(sample: xr.Dataset) -> None:
    found = why(sample, year=2011)
    assert len(found.others) == 29
    for outcome in OUTCOMES:
        whole = found.here[outcome] - found.usual[outcome]
        assert found.shares[outcome].sum(axis=0) == pytest.approx(whole, abs=1e-9)
    grid = compare(sample, sow="10-20", nitrogen="0,60 lb/acre").squeeze(drop=True)
    none, some = grid["biomass_kg_ha"].sel(year=2011).values
    assert found.here[BIOMASS] == some
    assert found.here[RESPONSE] == pytest.approx(some - none, abs=1e-9)
    assert found.here[LEACHED] == grid["nitrate_leached_kg_ha"].sel(year=2011).values[1]
    # other falls keep their own calendar where it has as many days
    same_length = [year for year in found.others if exchanged._leap(year)]
    at = [found.others.index(year) for year in same_length]
    expected = grid["biomass_kg_ha"].sel(year=same_length).values[:, 1]
    assert found.usual[BIOMASS][at] == pytest.approx(expected, abs=1e-9)
    # and hardly differ where it has not
    rest = [year for year in found.others if not exchanged._leap(year)]
    expected = grid["biomass_kg_ha"].sel(year=rest).values[:, 1].mean()
    at = [found.others.index(year) for year in rest]
    assert found.usual[BIOMASS][at].mean() == pytest.approx(expected, rel=0.02)


def test_without_a_year_the_furthest_out_is_taken(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET, year=2004))
    assert (found.year, found.chosen) == (2004, True)


def test_a_season_keeps_its_rain_on_another_calendar() -> None:
    season = np.arange(3 * 366, dtype=float).reshape(3, 366)
    shorter = exchanged._on_calendar(season, True, False)
    assert np.nansum(shorter[2]) == season[2].sum()
    assert (shorter[0, 243], shorter[0, 242]) == (season[0, 244], season[0, 242])
    longer = exchanged._on_calendar(shorter, False, True)
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
    assert late.spans["fall"] == ("10-01", "11-30")


# --- sentences ---


def test_sentences_change_with_the_numbers(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET), year=ODD)
    lost = " ".join(sentences(found, "si"))
    assert f"{found.lost[0]:.0f} of the 67 kg/ha of nitrogen leached by Christmas" in lost
    means = {name: float(values.mean()) for name, values in found.usual.items()}
    gained = replace(
        found,
        here={name: 3.0 * value for name, value in means.items()},
        shares={name: -values for name, values in found.shares.items()},
        lost=(1.0, 30.0),
    )
    told = " ".join(sentences(gained, "si"))
    assert "The nitrogen response gained by November's rain" in told
    assert "1 of the 67 kg/ha of nitrogen leached by Christmas, usually 30" in told
    assert told != lost


def test_causes_are_named_by_what_stood_out(same: xr.Dataset) -> None:
    found = why(with_odd(same, *WET), year=ODD)

    def named(*rain: tuple[float, float]) -> tuple[str, str]:
        months = tuple(
            Month(name, "fall", 30, (15.0, 15.0), one)
            for name, one in zip(("September", "October", "November"), rain, strict=True)
        )
        return cause(replace(found, months=months), "fall rain", "si")

    assert named((80, 80), (80, 80), (280, 90)) == ("November's rain", "(280 mm, usually 90 mm)")
    assert named((80, 80), (80, 80), (9, 90)) == ("the dry November", "(9 mm, usually 90 mm)")
    assert named((160, 80), (150, 80), (170, 90)) == ("the fall's rain", "(480 mm, usually 250 mm)")
    assert named((8, 80), (7, 80), (9, 90)) == ("the dry fall", "(24 mm, usually 250 mm)")
    assert named((160, 80), (80, 80), (10, 90)) == (
        "the way the fall's rain went",
        "(Sep 160 mm, usually 80 mm; Oct 80 mm, usually 80 mm; Nov 10 mm, usually 90 mm)",
    )
    assert named((81, 80), (80, 80), (90, 90))[0] == "the way the fall's rain went"


# --- the command ---


def run(*arguments: str) -> Result:
    return CliRunner().invoke(fallsown, ["why", *arguments], catch_exceptions=False)


def test_the_rows_add_up_to_the_differences() -> None:
    told = json.loads(run("--json", "--year", "2009").stdout)
    assert told["command"] == "why"
    assert [row["piece"] for row in told["rows"]] == list(PIECES)
    for field, whole in told["differences"].items():
        share = field.replace("_kg_ha", "_share_kg_ha")
        assert sum(row[share] for row in told["rows"]) == pytest.approx(
            whole["difference"], abs=1e-9
        )
        assert whole["year"] - whole["usual"] == pytest.approx(whole["difference"], abs=1e-9)
    assert told["rows"][0]["first_day"] == "09-01"
    assert told["rows"][2]["last_day"] == "02-28"
    assert 2009 not in told["compared_with"]
    assert any("invented place" in text for text in told["cautions"])


@pytest.mark.parametrize("sample", list(simulator.samples()))
def test_every_sample_is_answered(sample: str, tmp_path: Path) -> None:
    out = tmp_path / "why.csv"
    result = run("--weather", sample, "--years", "2015:2024", "--out", str(out))
    assert result.exit_code == 0, result.stderr
    assert "fall from Sep 1 to Nov 30" in " ".join(result.stdout.split())
    assert "spring rain" in out.read_text()


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


def test_the_chart_and_the_rows_carry_the_same_shares(sample: xr.Dataset) -> None:
    found = why(sample, year=2009)
    spec = json.dumps(why_chart(found, "si").to_dict())
    data = dataset(found)
    for piece in PIECES:
        share = float(data["biomass_share_kg_ha"].sel(piece=piece))
        assert f'"told": "{round(share):+,}"' in spec or round(share) == 0
    with pytest.raises(InputError):
        why(sample, year=2009, end="4000 lb/acre")
