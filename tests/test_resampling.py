"""Real seasons drawn anew: members of the record, in their order, as often as their kind."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.problems import InputError
from simulator.weather.files.reading import read_weather
from simulator.weather.generator.daily import falls
from simulator.weather.generator.generated import make_weather
from simulator.weather.generator.resampling import (
    LEAP_DAY,
    assemble,
    block_of_days,
    draw_donors,
    seasons_of,
    spread_out,
)
from simulator.weather.record import NAMES
from simulator.weather.samples import sample_weather
from simulator.weather.year_types import kinds_of_year
from simulator.weather.year_weights import year_weights

ERRORS = 4.0


@pytest.fixture(scope="module")
def record():
    return sample_weather()


@pytest.fixture(scope="module")
def seasons(record):
    return seasons_of(record)


def stream(seed: int = 1) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))


def season(record, year: int) -> np.ndarray:
    """A season of a record without its 29 February, (3, 365)."""
    days = record.sel(time=slice(f"{year}-08-01", f"{year + 1}-07-31"))
    days = days.isel(time=~((days.time.dt.month == 2) & (days.time.dt.day == 29)).values)
    return np.array([days[name].values for name in NAMES])


def test_drawn_seasons_are_seasons_of_the_record_day_by_day(record):
    made = make_weather(record, 12, 3, "resampled")
    assert made.donors.shape == (12, 1)
    assert set(made.donors.ravel()) <= set(range(1995, 2025))
    for at, donor in enumerate(made.donors[:, 0]):
        assert np.array_equal(season(made.record, 2001 + at), season(record, int(donor)))


@pytest.mark.parametrize("blocks", ["month", "3 weeks", "26 weeks"])
def test_order_is_kept_within_a_block(record, blocks):
    made = make_weather(record, 6, 3, "resampled", blocks=blocks)
    block = np.delete(block_of_days(blocks), LEAP_DAY)
    assert len(set(made.donors.ravel())) > 3
    for at, row in enumerate(made.donors):
        mine = season(made.record, 2001 + at)
        for one, donor in enumerate(row):
            here = block == one
            assert np.array_equal(mine[:, here], season(record, int(donor))[:, here])


def test_the_29_february_is_the_donors_own_or_the_28th_without_rain(record, seasons):
    leap = seasons.years.tolist().index(1999)
    other = seasons.years.tolist().index(2000)
    days = record.sel(time="2000-02-29")
    assert seasons.values[leap, :, LEAP_DAY].tolist() == [days[name].item() for name in NAMES]
    before = record.sel(time="2001-02-28")
    assert seasons.values[other, :, LEAP_DAY].tolist() == [
        before["tmax"].item(),
        before["tmin"].item(),
        0.0,
    ]
    time = falls(4, 2001)
    laid = assemble(seasons, np.full((4, 1), other), "season", time)
    assert (time == np.datetime64("2004-02-29")).sum() == 1
    assert laid.shape == (3, 4 * 365 + 1)


@pytest.mark.analytic("weights in the proportion of the kinds give each season the same chance")
@pytest.mark.parametrize("how", ["fall rain", "fall temperature", "fall"])
def test_kind_weighted_means_are_the_sample_means(record, seasons, how):
    kinds = kinds_of_year(record, how)
    years = seasons.years.tolist()
    counts = {kind: sum(kinds[year] == kind for year in years) for kind in set(kinds.values())}
    shares = {kind: count / len(years) for kind, count in counts.items()}
    chance = year_weights(kinds, shares, years)
    totals = seasons.values[:, 2].sum(axis=1)
    heat = seasons.values[:, :2].mean(axis=(1, 2))
    assert chance @ totals == pytest.approx(totals.mean(), rel=1e-12)
    assert chance @ heat == pytest.approx(heat.mean(), rel=1e-12)
    drawn = totals[draw_donors(seasons, 4000, stream(), weights=chance)[:, 0]]
    assert abs(drawn.mean() - totals.mean()) < ERRORS * totals.std() / np.sqrt(4000)


@pytest.mark.analytic("binomial error of the share of each kind")
def test_kinds_come_with_their_chance(record, seasons):
    kinds = kinds_of_year(record)
    made = make_weather(record, 400, 9, "resampled", weights="wet 50, normal 30, dry 20")
    drawn = [kinds[int(year)] for year in made.donors[:, 0]]
    for kind, share in (("wet", 0.5), ("normal", 0.3), ("dry", 0.2)):
        error = np.sqrt(share * (1 - share) / 400)
        assert abs(drawn.count(kind) / 400 - share) < ERRORS * error
    only = make_weather(record, 20, 9, "resampled", weights="wet 100", blocks="month")
    assert {kinds[int(year)] for year in only.donors.ravel()} == {"wet"}


def test_analogue_years_by_the_oceanic_nino_index(record, open_data):
    file = str(open_data / "enso" / "oni.ascii.txt")
    kinds = kinds_of_year(record, file)
    made = make_weather(record, 15, 2, "resampled", weights="la nina 100", kinds=file)
    assert {kinds[int(year)] for year in made.donors.ravel()} == {"la nina"}
    assert "la nina (chance 100%)" in " ".join(made.notes)


def test_blocks_meet_where_the_weather_matches(seasons):
    """The step across a join is nearer to a step within a season than blind joins make it."""
    block = block_of_days("2 weeks")
    joins = np.flatnonzero(np.diff(block)) + 1
    matched = draw_donors(seasons, 60, stream(), blocks="2 weeks")
    blind = stream().integers(0, seasons.years.size, matched.shape)

    def step(donors):
        before, after = donors[:, :-1], donors[:, 1:]
        tmin = seasons.values[:, 1]
        return np.abs(tmin[after, joins] - tmin[before, joins - 1]).mean()

    within = np.abs(seasons.values[:, 1][:, joins] - seasons.values[:, 1][:, joins - 1]).mean()
    assert within < step(matched) < step(blind)
    assert step(matched) - within < 0.5 * (step(blind) - within)


def test_all_seasons_may_come_and_as_often(seasons):
    drawn = draw_donors(seasons, 6000, stream(4))[:, 0]
    counts = np.bincount(drawn, minlength=30)
    assert (np.abs(counts - 200) < 5 * np.sqrt(200)).all()


def test_a_seed_gives_its_seasons_again(record):
    first, again, other = (
        make_weather(record, 5, seed, "resampled", blocks="month") for seed in (4, 4, 5)
    )
    assert first.record.identical(again.record)
    assert not first.record.equals(other.record)


def test_seasons_with_gaps_lend_nothing_and_are_named(record):
    holed = record.copy(deep=True)
    holed["tmin"].values[
        holed.time.values.astype("datetime64[D]") < np.datetime64("1995-09-01")
    ] = np.nan
    made = make_weather(holed, 40, 1, "resampled")
    assert 1995 not in made.donors
    assert "lend nothing: 1995." in " ".join(made.notes)


def test_a_record_of_winters_lends_winters(open_data):
    winters = read_weather(
        open_data / "weather" / "prattville_winters_2003_2005_2006.csv", latitude=32.4
    )
    made = make_weather(winters, 3, 1, "resampled")
    assert set(made.donors.ravel()) <= {2003, 2005, 2006}
    month = made.record.time.dt.month
    winter = (month >= 11) | (month <= 4)
    assert np.isfinite(made.record.tmax.values[winter.values]).all()
    assert np.isnan(made.record.tmax.values[~winter.values]).all()
    assert "Only 3 seasons are whole" in " ".join(made.notes)


def test_a_single_season_is_refused(record):
    with pytest.raises(InputError, match="No two of its seasons are whole"):
        make_weather(record.isel(time=slice(0, 366)), 3, 1, "resampled")


@pytest.mark.parametrize("method", ["fitted", "resampled"])
def test_a_total_is_met_in_every_season_and_told(record, method):
    text = "rain november = 11 inch"
    made = make_weather(record, 6, 2, method, conditions=[text])
    november = made.record.rain.sel(time=made.record.time.dt.month == 11)
    assert november.groupby("time.year").sum().values == pytest.approx(np.full(6, 279.4))
    told = " ".join(made.notes)
    assert text in made.record.attrs["source"]
    assert "came within 10 % by themselves" in told
    assert "was multiplied by" in told
    assert ("a guess" in told) == (method == "resampled")
    if method == "resampled":
        for at, donor in enumerate(made.donors[:, 0]):
            mine, own = season(made.record, 2001 + at), season(record, int(donor))
            assert np.array_equal(mine[:2], own[:2])
            kept = np.r_[0:92, 122:365]
            assert np.array_equal(mine[2, kept], own[2, kept])
            wet = own[2, 92:122] > 0
            assert (mine[2, 92:122][wet] / own[2, 92:122][wet]).std() < 0.1  # scaled alike


def test_the_fitted_generator_makes_wet_falls(record):
    wet = make_weather(record, 20, 2, weights="wet 100").record
    made, own = (
        one.rain.sel(time=one.time.dt.month >= 10).groupby("time.year").sum().values
        for one in (wet, record)
    )
    assert made.min() > np.median(own)


@pytest.mark.parametrize(
    "options",
    [{"conditions": ["rain november = 3 inch"]}, {"weights": "wet 60, normal 20, dry 20"}],
)
def test_falls_of_a_kind_do_not_come_again_while_there_are_others(record, options):
    made = make_weather(record, 40, 2, **options)
    falls_made = {season(made.record, 2001 + at)[:2].tobytes() for at in range(40)}
    assert len(falls_made) == 40
    assert "different seasons" not in " ".join(made.notes)


def test_falls_that_come_again_are_told(record):
    made = make_weather(record, 60, 2, conditions=["rain november = 25 inch"])
    falls_made = {season(made.record, 2001 + at)[:2].tobytes() for at in range(60)}
    assert len(falls_made) < 60
    assert f"only {len(falls_made)} different seasons" in " ".join(made.notes)


@pytest.mark.analytic("binomial error of the share of each kind")
def test_spreading_seasons_out_keeps_the_chance_of_each_kind(seasons):
    weights = np.where(np.arange(30) < 10, 0.05, 0.025)  # half, and half of the other twenty
    donors = draw_donors(seasons, 1000, stream(), weights=weights)
    spread = spread_out(donors, weights, stream(7))
    assert ((donors < 10) == (spread < 10)).all()
    for kind in (spread < 10, spread >= 10):
        counts = np.bincount(spread[kind])
        assert np.ptp(counts[counts > 0]) <= 1


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"method": "drawn"}, "method: 'drawn' is not known. Write fitted or resampled."),
        ({"kinds": "fall rain"}, "kinds: Kinds alone change nothing."),
        ({"blocks": "2 days"}, "blocks: '2 days' is not a kind of block."),
        ({"blocks": "1 weeks"}, "weeks from '2 weeks' to '26 weeks'"),
        ({"blocks": "month"}, "A fitted generator draws days, not blocks."),
        (
            {"method": "resampled", "blocks": "month", "conditions": ["rain may = 3 inch"]},
            "Conditions choose whole seasons.",
        ),
        ({"kinds": "list.csv", "weights": "wet 100"}, "A list of years sorts recorded falls"),
        ({"conditions": ["rain november + 1 inch"]}, "is not a total of rain"),
        ({"conditions": ["temperature may - 1 degC"]}, "is not a total of rain"),
        ({"conditions": ["rain november"]}, "Write a total of rain"),
        ({"conditions": ["rain july..aug = 3 inch"]}, "runs across 1 August"),
        ({"conditions": ["rain november = 1 inch", "rain oct..dec = 9 inch"]}, "shares days"),
        ({"method": "resampled", "weights": "wet 50"}, "The chances add up to 50"),
        ({"method": "resampled", "weights": "windy 100"}, "There is no kind 'windy'"),
        ({"years": 451}, "Ask for 1 to 450, as many as a record can hold"),
        ({"years": 0}, "0 falls asked for"),
        ({"first_year": 2190}, "Keep the record between 1750 and 2200"),
        ({"seed": -1}, "seed: -1 is negative"),
    ],
)
def test_what_cannot_be_met_is_refused(record, options, message):
    with pytest.raises(InputError) as caught:
        make_weather(record, **options)
    assert message in str(caught.value)
