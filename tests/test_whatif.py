"""What a what-if says: every number and every word from the grid it was made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from simulator.answers.compare.calculate import main_effects
from simulator.answers.compare.words import sentences as main_sentences
from simulator.answers.whatif.calculate import effects, goes_on_after
from simulator.answers.whatif.words import sentences
from simulator.parameters.model_error import RESPONSE, SHIPPED
from simulator.season.compare import compare
from simulator.show import wording
from simulator.show.cautions import cautions, dead_stands
from simulator.weather.change_text import parse_change
from simulator.weather.samples import sample_weather

DRENCHED = [parse_change("rain november = 11 inch")]
SOW = ["10-20", "12-08"]
RATES = [0.0, 30.0, 60.0]
# (sow, nitrogen, case); the early sowing loses by the change, the late one does not
BIOMASS = np.array([
    [[1000.0, 800.0], [2000.0, 1100.0], [3000.0, 1300.0]],
    [[500.0, 490.0], [1000.0, 985.0], [1400.0, 1390.0]],
])  # fmt: skip
LEACHED = np.array([
    [[20.0, 25.0], [24.0, 44.0], [29.0, 63.0]],
    [[20.0, 26.0], [23.0, 29.2], [27.0, 33.3]],
])  # fmt: skip
RAIN = np.array([600.0, 800.0])


def grid(
    biomass: np.ndarray = BIOMASS, leached: np.ndarray = LEACHED, **more: object
) -> xr.Dataset:
    """Two falls, the second with twice the distance from the mean, so that means are as given."""
    dims = ("year", "sow", "nitrogen", "case")

    def spread(values: np.ndarray) -> xr.DataArray:
        over_years = np.stack([values * 0.9, values * 1.1])
        return xr.DataArray(over_years, dims=dims)

    made = xr.Dataset(
        {
            "biomass_kg_ha": spread(biomass),
            "nitrate_leached_kg_ha": spread(leached),
            "rain_mm": spread(np.broadcast_to(RAIN, biomass.shape)),
            "thermal_time_degC_d": spread(np.broadcast_to([1500.0, 1400.0], biomass.shape)),
            "growth_stage_zadoks": spread(np.full(biomass.shape, 50.0)),
            "stand_alive": xr.ones_like(spread(biomass)),
        },
        coords={
            "year": [2001, 2002],
            "sow": SOW,
            "nitrogen": RATES,
            "case": ["as recorded", "changed"],
        },
        attrs={"cereal": "rye", "changes": "rain november = 11 inch", **more},
    )
    return made.expand_dims(seeding=[100.0], nitrogen_timing=["sowing"], end=["04-15"]).copy(
        deep=True  # older xarray gives views that cannot be written to
    )


def said(made: xr.Dataset, system: str = "si", change: str = "rain november = 11 inch") -> str:
    return " ".join(sentences(made, system, sample_weather(), [change]))


def one(made: xr.Dataset) -> xr.Dataset:
    return made.isel(seeding=0, end=0)


# --- numbers ---


@pytest.mark.analytic("differences of the means that the grid was made of")
def test_effects_are_marginal_and_paired() -> None:
    by_plan = {(e.sow, e.nitrogen): e for e in effects(one(grid()), DRENCHED)}
    early = by_plan["10-20", 60.0]
    assert early.biomass.difference == pytest.approx(-1700.0)
    assert (early.gained.recorded, early.gained.changed) == pytest.approx((2000.0, 500.0))
    assert early.response_kept == pytest.approx(0.25)
    assert (early.lost.recorded, early.lost.changed) == pytest.approx((9.0, 38.0))
    assert early.lost.difference == pytest.approx(29.0)
    assert not early.after_change and by_plan["12-08", 60.0].after_change
    assert by_plan["10-20", 0.0].applied == 0.0


def test_falls_that_miss_an_end_drop_out_of_both_sides() -> None:
    made = grid()
    whole = effects(one(made), DRENCHED)
    made["biomass_kg_ha"].loc[
        {"year": 2002, "sow": "10-20", "nitrogen": 60.0, "case": "changed"}
    ] = np.nan
    part = {(e.sow, e.nitrogen): e for e in effects(one(made), DRENCHED)}
    assert part["10-20", 30.0].biomass.recorded == pytest.approx(0.9 * 2000.0)  # of 2001 alone
    assert part["10-20", 60.0].lost.changed == pytest.approx(0.9 * 38.0)
    assert part["12-08", 60.0] == whole[-1]


def test_a_hardly_any_response_has_no_share_left() -> None:
    flat = np.broadcast_to(BIOMASS[:, :1], BIOMASS.shape)
    assert all(np.isnan(e.response_kept) for e in effects(one(grid(flat))))


@pytest.mark.parametrize(
    ("sow", "timing", "changes", "after"),
    [
        ("10-20", "sowing", ["rain november = 11 inch"], False),
        ("12-01", "sowing", ["rain november = 11 inch"], True),
        ("11-30", "sowing", ["rain november = 11 inch"], False),
        ("10-20", "02-15", ["rain november = 11 inch"], True),
        ("10-20", "sowing+02-15", ["rain november = 11 inch"], False),
        ("10-20", "02-15", ["temperature 12-01..02-15 + 2 degC"], False),
        ("10-20", "03-01", ["rain november * 2", "rain february * 2"], True),
        ("10-20", "02-20", ["rain november * 2", "rain february * 2"], False),
    ],
)
def test_what_goes_on_after_the_change(
    sow: str, timing: str, changes: list[str], after: bool
) -> None:
    assert goes_on_after(sow, timing, [parse_change(text) for text in changes]) == after


@pytest.mark.analytic("0.9 and 1.1 of the means that the grid was made of, and the errors' reach")
def test_effects_have_ranges_of_weather_and_field() -> None:
    by_plan = {(e.sow, e.nitrogen): e for e in effects(one(grid()), DRENCHED)}
    early = by_plan["10-20", 60.0]
    assert (early.differs.weather_low, early.differs.weather_high) == pytest.approx((-1870, -1530))
    reach = RESPONSE.reach(0.8) * RESPONSE.rmse
    assert early.differs.low == pytest.approx(-1700 - reach, abs=150)
    assert early.differs.high == pytest.approx(-1700 + reach, abs=150)
    assert early.brings[0].weather_high == pytest.approx(1.1 * 2000)
    exact = replace(SHIPPED, response=replace(RESPONSE, rmse=0.001))
    known = {(e.sow, e.nitrogen): e for e in effects(one(grid()), DRENCHED, exact)}
    assert known["10-20", 60.0].differs.low == pytest.approx(-1870, abs=1)


def test_what_the_error_drowns_is_said_to_be_untold() -> None:
    lost = "In a field like these the difference is"
    assert lost in said(grid())  # 1,700 kg/ha less
    near = BIOMASS.copy()
    near[0, :, 1] = near[0, :, 0] - 300.0
    assert "so that whether it is a gain or a loss cannot be told" in said(grid(near))
    assert lost not in said(grid(near))
    assert "had not seen" in said(grid())


# --- sentences ---


def test_sentences_carry_the_numbers() -> None:
    told = said(grid())
    assert "With 279 mm of rain in each November" in told
    assert "has 800 mm of rain and snow in place of 600 mm" in told
    assert (
        "rye then stands at 1,300 kg/ha on Apr 15, 1,700 kg/ha less (57 percent) than the "
        "3,000 kg/ha as recorded"
    ) in told
    assert (
        "Of the 60 kg/ha of nitrogen applied, 38 kg/ha leach, against 9 kg/ha as recorded: "
        "29 kg/ha more."
    ) in told
    assert (
        "brings 500 kg/ha of biomass over none, 25 percent of the 2,000 kg/ha that it brings "
        "as recorded"
    ) in told
    assert (
        "costs the Oct 20 sowing most (-1,700 kg/ha); to the Dec 8 sowing it makes hardly any "
        "difference." in told
    )
    assert (
        "Sown on Dec 8, a stand gets its nitrogen after the changed weather and escapes its "
        "leaching: about as much of it leaches as recorded, and the biomass that it adds is "
        "100 percent of that as recorded."
    ) in told


def test_sentences_change_with_the_numbers() -> None:
    better = BIOMASS[..., ::-1]
    told = said(grid(better, LEACHED[..., ::-1]))
    assert "1,700 kg/ha more (131 percent) than the 1,300 kg/ha as recorded" in told
    assert "38 kg/ha as recorded: 29 kg/ha less." in told
    assert "400 percent of the 500 kg/ha" in told
    assert (
        "helps the Oct 20 sowing most (+1,700 kg/ha); to the Dec 8 sowing it makes hardly any "
        "difference." in told
    )
    untouched = BIOMASS.copy()
    untouched[1, :, 1] = untouched[1, :, 0]
    told = said(grid(untouched))
    assert "costs the Oct 20 sowing most (-1,700 kg/ha); to the Dec 8 sowing it makes" in told
    assert "(+0 kg/ha)" not in told


def test_mixed_effects_name_the_loser_and_the_winner() -> None:
    mixed = BIOMASS.copy()
    mixed[1] = mixed[1, :, ::-1] + np.array([0.0, 300.0])
    told = said(grid(mixed))
    assert (
        "costs the Oct 20 sowing most (-1,700 kg/ha) and helps the Dec 8 sowing most (+310 kg/ha)"
        in told
    )


def test_late_nitrogen_that_leaches_all_the_same_does_not_escape() -> None:
    leached = LEACHED.copy()
    leached[1, 2, 1] = 60.0
    assert "does not escape its leaching: 27 kg/ha more of it leach than as recorded" in said(
        grid(BIOMASS, leached)
    )


def test_a_change_without_effect_is_said_to_have_none() -> None:
    same = np.broadcast_to(BIOMASS[..., :1], BIOMASS.shape)
    told = said(grid(same, np.broadcast_to(LEACHED[..., :1], LEACHED.shape)))
    assert "3,000 kg/ha on Apr 15, about as much as recorded." in told
    assert "9 kg/ha leach, about as much as recorded." in told
    assert "It makes about the same difference to every sowing date." in told


def test_a_single_rate_has_no_sentence_on_response() -> None:
    told = said(grid().sel(nitrogen=[60.0]))
    assert "applied" not in told and "response" not in told


def test_a_response_above_a_lowest_rate_that_is_not_none() -> None:
    told = said(grid().sel(nitrogen=[30.0, 60.0]))
    assert "Of the 30 kg/ha of nitrogen applied above 30 kg/ha, 19 kg/ha leach" in told
    assert "of biomass over 30 kg/ha" in told


def test_sentences_follow_the_units() -> None:
    told = said(grid(), "us")
    assert "kg/ha" not in told and " mm" not in told
    assert "11 in of rain in each November" in told
    assert "1,520 lb/ac less" in told  # 1700 kg/ha x 0.892


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            "temperature oct..dec - 5 degF",
            "With the air 2.8 °C cooler from October to December, the stand has 1,400 °C d above "
            "freezing in place of 1,500 °C d",
        ),
        (
            "rain oct..nov * 0.3",
            "With rain times 0.3 from October to November (the record's mean is",
        ),
        ("rain november + 2 inch", "With 51 mm more rain in each November (the record's mean is"),
    ],
)
def test_every_kind_of_change_is_told(change: str, words: str) -> None:
    assert words in said(grid(changes=change), change=change)


def test_two_timings_are_ranked() -> None:
    held = grid(BIOMASS + np.array([0.0, 100.0]) * np.array([0.0, 5.0, 10.0])[:, None])
    both = xr.concat([grid(), held.assign_coords(nitrogen_timing=["02-15"])], "nitrogen_timing")
    told = said(both)
    assert (
        "In the changed weather the 60 kg/ha of nitrogen brings the Oct 20 sowing most given on "
        "Feb 15 (+1,500 kg/ha) and least given at sowing (+500 kg/ha)."
    ) in told
    assert "Nitrogen on Feb 15 goes on after the changed weather" in told


# --- other choices, cautions, words ---


@pytest.mark.analytic("means of the grid over every other dimension")
def test_main_effects_are_means_over_the_rest() -> None:
    made = grid().isel(case=0)
    found = main_effects(made)
    assert list(found) == ["nitrogen", "sow"]  # ranges of 1,450 and 1,033 kg/ha
    assert dict(found["sow"])["10-20"] == pytest.approx(2000.0)
    assert dict(found["nitrogen"])[60.0] == pytest.approx(2200.0)
    assert "Nitrogen rate: 60 kg/ha makes most, 2,200 kg/ha" in " ".join(main_sentences(made, "si"))


def test_cautions_fit_the_answer() -> None:
    assert cautions({"site": "A", "invented": "no"}) == []
    told = cautions({"site": "A", "invented": "yes"}, nitrogen=True, termination=True)
    assert told[0] == "A is an invented place: its weather was generated, not measured."
    for word in (
        "not a recommendation",
        "nutrient management",
        "setbacks",
        "herbicide labels",
        "crop insurance",
    ):
        assert any(word in text for text in told)
    assert not any("herbicide" in text for text in cautions({"site": "A"}, nitrogen=True))


def test_dead_stands_are_counted_by_sowing() -> None:
    made = grid()
    assert dead_stands(made) == []
    made["stand_alive"].loc[{"year": 2002, "sow": "12-08"}] = 0.0
    (told,) = dead_stands(made)
    assert told.startswith("Of 2 falls, frost killed stands in 1 sown on Dec 8;")
    made["growth_stage_zadoks"][:] = 5.0  # not emerged, so not killed
    assert dead_stands(made) == []


def test_words() -> None:
    assert wording.dates_in("sowing 1/3 + 02-15 2/3") == "sowing 1/3 + Feb 15 2/3"
    assert wording.timing("sowing+02-15") == "in equal parts at sowing and on Feb 15"
    assert wording.timing("sowing 1/3 + 02-15 2/3") == "1/3 at sowing and 2/3 on Feb 15"
    assert wording.timing("02-15") == "on Feb 15"
    ends = ("04-15", "zadoks 61", "zadoks 33", "4000 lb/acre")
    assert [wording.ending(end) for end in ends] == [
        "on Apr 15",
        "at flowering (Zadoks 61)",
        "at Zadoks 33",
        "at 4000 lb/acre",
    ]
    assert wording.falls([2007]) == "the fall of 2007"
    assert wording.falls([2003, 2004, 2005, 2008]) == "4 falls, 2003 to 2005 and 2008"
    assert wording.join(["a", "b", "c"]) == "a, b and c"


# --- with the simulator ---


def test_a_drenched_november_on_the_default_sample() -> None:
    record = sample_weather()
    change = "rain november = 11 inch"
    made = compare(record, changes=[change])
    by_plan = {(e.sow, round(e.nitrogen)): e for e in effects(one(made), DRENCHED)}
    early, late = by_plan["10-20", 67], by_plan["12-08", 67]
    assert early.lost.difference > late.lost.difference
    assert early.biomass.difference < 0
    assert "Sown on Dec 8" in said(made, "us", change)
