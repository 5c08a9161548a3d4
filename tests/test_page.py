"""What the page is asked and what it answers, without a server."""

from __future__ import annotations

import asyncio
import json
import shlex
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import numpy as np
import pytest
from click.testing import CliRunner

from simulator import units
from simulator.answers.risk.data import FALLS, FIELD
from simulator.answers.season.panels import STAGES
from simulator.answers.shared import field_ranges
from simulator.commands import fallsown
from simulator.page import (
    answers,
    costs,
    downloads,
    field_view,
    growing,
    pictures,
    rows,
    slow_clients,
    stages,
)
from simulator.page.bench import balance, headline, lines, remedies
from simulator.page.classroom.question import read_class_question
from simulator.page.growing import grow_plan
from simulator.page.question import Question, read_question, usual
from simulator.page.records import Visitors, plain_name, sample_place
from simulator.page.slow_clients import Intake
from simulator.problems import InputError
from simulator.season.compare import compare
from simulator.season.one_season import run_season
from simulator.season.plan import Plan
from simulator.weather.samples import samples

WET = "rain november = 11 inch"


def asked(**given: Any) -> Question:
    return read_question(urlencode({k.replace("_", "-"): v for k, v in given.items()}, doseq=True))


def answered(**given: Any) -> answers.Answered:
    question = asked(**given)
    return answers.answer(question, sample_place(question.place))


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"place": "pellow-strand", "year": 2003, "cereal": "oat", "sow": "11-05"},
        {
            "change": [WET, "temperature oct..dec - 5 degF"],
            "pin_sow": "11-20",
            "target": "2 ton/ha",
        },
        {"nitrogen_timing": "sowing 1/3 + 02-15 2/3", "ended_by": "none", "units": "si"},
        {"soil_nitrate": "60 lb/acre on 09-25", "organic_matter": "1.5", "pin_sow": "11-20"},
    ],
)
def test_a_question_and_its_link_are_one(given: dict[str, Any]) -> None:
    question = asked(**given)
    assert read_question(question.query()) == question


def test_what_is_left_out_is_as_usual_in_the_places_own_units() -> None:
    assert asked() == asked(**{k.replace("-", "_"): v for k, v in usual("us").items()})
    assert asked(place="pellow-strand").system == "si"
    assert asked(place="pellow-strand").plan.seeding == "100 kg/ha"


def test_every_fault_is_told_at_once_by_its_control() -> None:
    with pytest.raises(InputError) as caught:
        asked(
            sow="99-1", cereal="rey", nitrogen="30", change="rain foo", year="20x", pin_end="13-1"
        )
    assert {p.where for p in caught.value.problems} == {
        "sow",
        "cereal",
        "nitrogen",
        "change",
        "year",
        "pin-end",
    }


@pytest.mark.parametrize(
    "text",
    [
        "change=" + "rain+november+*+2&change=" * 30,
        "sow=1&sow=2",
        "&".join(f"k{i}=1" for i in range(60)),
    ],
)
def test_too_much_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_question(text)


@pytest.mark.parametrize("read", [read_question, read_class_question])
def test_a_link_of_very_many_keys_is_refused(read: Any) -> None:
    with pytest.raises(InputError, match="more than 80 keys"):
        read("&".join(f"key{number}=1" for number in range(90)))


@pytest.mark.analytic("the same code by another way: equal to the last bit")
@pytest.mark.parametrize("name", samples())
@pytest.mark.parametrize(("sow", "end"), [("09-05", "03-01"), ("12-08", "05-20")])
def test_the_page_grows_what_the_commands_grow(name: str, sow: str, end: str) -> None:
    place = sample_place(name)
    question = asked(
        place=name,
        sow=sow,
        end=end,
        nitrogen="60 lb/acre",
        change=WET,
        nitrogen_timing="sowing+02-15",
        cereal="wheat",
        soil="clay",
    )
    grown = grow_plan(place, question.plan, question.changes, None)
    plan = question.plan
    grid = (
        compare(
            place.record,
            cereal="wheat",
            soil="clay",
            sow=[sow],
            seeding=[plan.seeding],
            nitrogen=[plan.nitrogen],
            nitrogen_timing=[plan.nitrogen_timing],
            end=[end],
            changes=[WET],
        )
        .sel(case="changed")
        .squeeze()
    )
    assert grown.years == tuple(grid["year"].values.tolist())
    for field in ("biomass_kg_ha", "nitrate_leached_kg_ha", "drainage_mm", "growth_stage_zadoks"):
        np.testing.assert_array_equal(grown.ends[field], grid[field].values)


@pytest.mark.analytic("the same code by another way: equal to the last bit")
def test_the_page_starts_from_what_was_measured_as_the_commands_do() -> None:
    test = "60 lb/acre to 24 inch on 09-25"
    found = answered(year=2015, soil_nitrate=test, organic_matter="1.5%")
    plan = found.asked.plan
    days = run_season(
        sample_place("tallow-bend").record,
        Plan(nitrogen=plan.nitrogen),
        year=2015,
        soil_nitrate=test,
        organic_matter=1.5,
    )
    (grown,) = found.grown.values()
    (of_2015,) = [end for end, year in zip(grown.ends, grown.years, strict=True) if year == 2015]
    assert of_2015["biomass_kg_ha"] == float(days["biomass_kg_ha"][-1])
    for told in (downloads.command(found), downloads.cost_command(found)):
        assert shlex.split(told)[shlex.split(told).index("--soil-nitrate") + 1] == test
        result = CliRunner().invoke(fallsown, shlex.split(told)[1:], catch_exceptions=False)
        assert result.exit_code == 0, result.stderr
    assert any(
        "soil test: 60 lb/ac in the top 24.0 in on the morning of Sep 25" in note
        for note in answers.notes(found)
    )
    assert (
        "on sandy loam (soil test 60 lb/acre to 24 inch on Sep 25, organic matter 1.5%) after"
        in (answers.asked_in_words(found))
    )
    assert not any("soil test" in note for note in answers.notes(answered(year=2015)))


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"soil_nitrate": "60 lb/acre"}, "It does not say the day. Write '60 lb/acre on 10-01'."),
        ({"soil_nitrate": "60"}, "'60' has no unit."),
        ({"soil_nitrate": "60 lb/acre on 11-01"}, "is after the last sowing, on 10-20."),
        ({"organic_matter": "20"}, "20 percent is out of range."),
        ({"pin_soil_nitrate": "60"}, "'60' has no unit."),
    ],
)
def test_what_was_measured_is_refused_by_its_control(given: dict[str, str], says: str) -> None:
    with pytest.raises(InputError) as caught:
        asked(**given)
    (problem,) = caught.value.problems
    assert problem.where == next(iter(given)).replace("_", "-")
    assert says in f"{problem.what} {problem.remedy}"


@pytest.mark.analytic("the same code by another way: equal to the last bit")
def test_the_days_are_those_of_one_season() -> None:
    found = answered(year=2015)
    plan = found.asked.plan
    days = run_season(
        found.place.record,
        Plan(
            sow=plan.sow,
            seeding=plan.seeding,
            nitrogen=plan.nitrogen,
            nitrogen_timing=plan.nitrogen_timing,
            end=plan.end,
        ),
        year=2015,
    )
    mine = found.grown["recorded"].days[0]
    mine = mine[np.isfinite(mine["rain_mm"])]
    for field in ("biomass_kg_ha", "soil_nitrate_kg_ha", "rain_mm"):
        np.testing.assert_array_equal(mine[field], days[field].values)


@pytest.mark.analytic("the same season run by another way: the first day at a stage's number")
def test_stages_are_told_on_their_days() -> None:
    found = answered(year=2015, change="temperature oct..mar + 5 degF")
    plan, told = found.asked.plan, {row[0]: row[1:] for row in stages.stage_table(found)}
    for at, changes in enumerate(((), found.asked.changes)):
        days = run_season(
            growing.weather(found.place, changes),
            Plan(
                sow=plan.sow,
                seeding=plan.seeding,
                nitrogen=plan.nitrogen,
                nitrogen_timing=plan.nitrogen_timing,
                end=plan.end,
            ),
            year=2015,
        )
        for least, name in STAGES:
            reached = np.flatnonzero(days["growth_stage_zadoks"].values >= least)
            if not reached.size:
                assert name not in told or told[name][at] == "-"
                continue
            first = days["time"].values[reached[0]].astype("datetime64[D]").item()
            assert told[name][at].partition(",")[0] == f"{first:%b} {first.day}"


def test_a_stage_that_a_stand_never_was_in_is_passed_over() -> None:
    """Unfertilized and grown in the cold, the stand has no tiller at jointing."""
    cold = "temperature oct..jan - 5 degF"
    found = answered(year=2001, sow="11-20", nitrogen="0 lb/acre", change=cold)
    told = {row[0]: row[1:] for row in stages.stage_table(found)}
    zadoks = found.grown["changed"].days["growth_stage_zadoks"][0]
    assert not ((zadoks >= 21) & (zadoks < 30)).any()
    assert (zadoks >= 31).any()
    assert told["tillering"][1] == "passed over"
    assert told["tillering"][0].startswith("Jan ")


def test_over_all_falls_a_stage_has_the_day_on_which_half_have_it() -> None:
    found = answered()
    grown = found.grown["recorded"]
    block = grown.days["growth_stage_zadoks"]
    on = stages.stage_days(grown)["jointing"]
    assert (block[:, on] >= 31).mean() >= 0.5 > (block[:, on - 1] >= 31).mean()
    assert all(len(row) == 2 and "," not in row[1] for row in stages.stage_table(found))


def test_the_headline_is_the_difference_asked_for() -> None:
    found = answered(change=WET)
    before, after = (found.one(name, "biomass_kg_ha") for name in ("recorded", "changed"))
    counts = [int((grown.biomass() >= found.asked.target).sum()) for grown in found.grown.values()]
    tens = [round(float(units.show(value, "biomass", "us")), -1) for value in (before, after)]
    assert headline.headline(found) == (
        f"11 in of rain in November costs {100 * (1 - tens[1] / tens[0]):.0f} %: {tens[1]:,.0f} "
        f"instead of {tens[0]:,.0f} lb/ac; enough in {counts[1]} of 30 falls, not {counts[0]}"
    )
    ranges = field_ranges.difference_ranges(
        found.grown["changed"].biomass() - found.grown["recorded"].biomass()
    )
    assert headline.said_first(found)["told"] == ranges.is_clear
    one = headline.headline(answered(change=WET, year=2015))
    assert "in the fall of 2015" in one and "falls" not in one
    same = headline.headline(answered(pin_sow="10-20"))
    assert same.startswith("This plan makes as much as the pinned one")


def test_a_stand_that_failed_is_said_to_have() -> None:
    found = answered(place="hollin-reach", sow="01-10", end="03-01")
    assert found.one("recorded", "biomass_kg_ha") < headline.FAILED
    assert "fails" in headline.headline(found) or "not come up" in headline.headline(found)
    assert lines.ends(found)["name"] == ["this plan: no stand"]
    assert headline.failing(answered(), "recorded") == ""
    # nor does an axis shrink until it looks like one
    assert rows.tops(found.place, "si")["biomass"] >= rows.LOWEST_TOP


@pytest.mark.analytic("each remedy is grown again as a plan of its own")
def test_a_remedy_taken_over_makes_what_it_said() -> None:
    told = remedies.remedies(answered(change=WET))
    assert told["said"].startswith(told["rows"][0]["told"])
    made = []
    for row in told["rows"]:
        parts = {key.replace("-", "_"): text for key, text in row["asks"].items()}
        other = answered(change=WET, **parts)
        mean = other.one("changed", "biomass_kg_ha")
        assert row["makes"].startswith(other.mass(mean))
        made.append(mean)
    assert made == sorted(made, reverse=True)
    assert {"nitrogen-timing": "02-15"} in [row["asks"] for row in told["rows"]]
    late = remedies.remedies(answered(nitrogen_timing="02-15", sow="09-01", end="05-31"))
    assert [row["told"] for row in late["rows"]] == ["Give 30 lb/ac more nitrogen"]


@pytest.mark.analytic("what comes is what goes")
@pytest.mark.parametrize("fed", ["ammonium nitrate", "poultry litter"])
def test_the_balance_of_nitrogen_closes(fed: str) -> None:
    told = balance.balance(answered(change=WET, fertilizer=fed, nitrogen="60 lb/acre", units="us"))
    came, went = ({row[0]: row[1:] for row in told[side]} for side in ("came", "went"))
    assert came["together"] == pytest.approx(went["together"], abs=0.11)
    assert came["applied"] == [60.0, 60.0]
    for side in (came, went):  # rows of less than half a kilogram are left out
        assert sum(np.array(v) for k, v in side.items() if k != "together") == pytest.approx(
            side["together"], abs=1.5
        )


def test_sentences_follow_the_numbers() -> None:
    found = answered(year=2005, change=WET, pin_sow="12-08")
    told = " ".join(answers.sentences(found))
    assert "less" in told
    assert "more" in told
    ends = found.grown["changed"].ends.copy()
    ends["biomass_kg_ha"] = 9000.0
    richer = replace(
        found, grown={**found.grown, "changed": replace(found.grown["changed"], ends=ends)}
    )
    changed = " ".join(answers.sentences(richer))
    assert found.mass(9000.0) in changed
    assert "less" not in changed
    ends["stand_alive"] = 0.0
    assert answers.sentences(richer)[0].startswith("Frost kills the rye sown on Oct 20 2005")


@pytest.mark.analytic("counts of a made-up list")
def test_the_chance_counts_falls() -> None:
    found = answered()
    ends = found.grown["recorded"].ends.copy()
    ends["biomass_kg_ha"] = 1000.0
    ends["biomass_kg_ha"][:12] = 6000.0
    made = replace(found, grown={"recorded": replace(found.grown["recorded"], ends=ends)})
    said = answers.chance(made)["said"]
    assert "in 12 of 30 falls, 40 percent" in said
    likely = field_ranges.chance_in_fields(ends["biomass_kg_ha"], made.asked.target)
    assert f"with a chance of {100 * likely:.0f} percent in a field like these" in said
    curve = rows.chance_rows(made)["curve"]
    falls, field = (
        [percent for percent, of in zip(curve["percent"], curve["of"], strict=True) if of == which]
        for which in (FALLS, FIELD)
    )
    assert (falls[0], falls[-1]) == (100.0, 0.0)
    assert field[0] == 100.0 and 0.0 < field[-1] < 20.0  # beyond the best fall there are fields


def test_the_pictures_show_the_readers_units() -> None:
    plan = {"year": 2015, "seeding": "90 lb/acre", "nitrogen": "30 lb/acre"}
    us, si = answered(**plan), answered(**plan, units="si")
    last_us, last_si = (rows.growth_rows(found)["stand"]["biomass"][-1] for found in (us, si))
    assert last_us == pytest.approx(units.show(last_si, "mass", "us"), abs=1.0)
    assert last_us == pytest.approx(
        float(units.show(us.one("recorded", "biomass_kg_ha"), "mass", "us")), abs=0.51
    )


def test_the_bar_of_a_field_is_wider_than_the_band_of_the_falls() -> None:
    found = [answered(**given) for given in ({}, {"year": 2015})]
    whole, one = (rows.growth_rows(each) for each in found)
    (low,), (high,) = (lines.ends(found[0])[name] for name in ("low", "high"))
    assert low < whole["band"]["low"][-1] and high > whole["band"]["high"][-1]
    for name in ("low", "high"):  # one fall stands before the band of all
        assert one["band"][name] == whole["band"][name]


@pytest.mark.analytic("the mean of the same falls by another way")
def test_the_line_ends_where_the_sentence_does() -> None:
    """A fall with 29 February has its dates a day later, and is drawn on them all the same."""
    found = answered(change=WET, pin_sow="11-20")
    drawn, told = rows.growth_rows(found)["stand"], lines.ends(found)
    for name, grown in found.grown.items():
        of = [v for v, s in zip(drawn["biomass"], drawn["series"], strict=True) if s == name]
        mean = float(units.show(grown.biomass().mean(), "mass", "us"))
        assert of[-1] == pytest.approx(mean, abs=0.51)
        assert told["biomass"][told["series"].index(name)] == pytest.approx(mean, abs=0.51)
    every = lines.falls(found)
    assert len(every["year"]) == len(every["biomass"]) == 30
    assert [made[-1] for made in every["biomass"]] == pytest.approx(
        units.show(found.grown["changed"].biomass(), "mass", "us"), abs=0.51
    )


def test_nothing_is_missing_in_what_is_drawn() -> None:
    for given in ({}, {"year": 2003}, {"place": "hollin-reach", "sow": "01-10", "end": "03-01"}):
        found = answered(change=WET, **given)
        drawn = {**rows.growth_rows(found), **rows.days_rows(found), **rows.chance_rows(found)}
        for columns in drawn.values():
            assert len({len(values) for values in columns.values()}) == 1
            assert None not in [value for values in columns.values() for value in values]


def test_what_is_in_sight_and_the_rest_are_the_whole_answer() -> None:
    found = answered(change=WET, pin_sow="11-20")
    parts = field_view.sight(found), field_view.rest(found)
    whole = field_view.payload(found)
    assert set(parts[0]) & set(parts[1]) == {"rows", "highest"}
    for key, value in whole.items():
        both = [part[key] for part in parts if key in part]
        assert value == (both[0] if len(both) == 1 else {**both[0], **both[1]})
    assert len(json.dumps(parts[0])) < 0.5 * len(json.dumps(whole))


def test_a_picture_taken_away_is_the_one_that_is_shown() -> None:
    found = answered(change=WET, pin_sow="11-20")
    season, often = (downloads.picture(found, which) for which in ("season", "chance"))
    assert " ".join(season["title"]["text"]) == headline.headline(found)
    for made in (season, often):
        assert answers.asked_in_words(found) in " ".join(made["title"]["subtitle"])
    assert len({row["year"] for row in season["datasets"]["falls"]}) == 30
    ends = season["datasets"]["ends"]
    names = {row["after"] or row["before"] for row in ends}
    assert names == {"as recorded", "changed", "pinned plan"}
    near = {**lines.ends(found), "biomass": [1010.0, 1000.0, None]}
    apart = np.diff(pictures.at_the_ends(near, 2400.0)["at"])
    assert apart.tolist() == [pytest.approx(200.0)], "20 of 240 px, and what is not has no name"


def test_the_cost_adds_up() -> None:
    told = costs.cost(answered(year=2015, nitrogen="60 lb/acre"))
    amounts = [float(row[1].strip("$")) for row in told["rows"]]
    assert sum(amounts[:-1]) == pytest.approx(amounts[-1], abs=0.005)
    assert f"${amounts[-1]:.2f} an acre" in told["said"]


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("station.csv", "station.csv"),
        ("../../etc/passwd", "passwd"),
        ("", "weather.csv"),
        ("C:\\data\\a b.csv", "a b.csv"),
        ("<b>&.csv", "_b_&.csv"),
        ("..", "weather.csv"),
        ("a\x00\nb.csv", "a__b.csv"),
        ("é" * 300 + ".csv", "é" * 72 + ".csv"),
        (".hidden", "hidden"),
    ],
)
def test_a_files_name_is_made_plain(name: str, kept: str) -> None:
    assert plain_name(name) == kept


def test_a_file_that_is_sent_too_slowly_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    class Slow:
        headers: dict[str, str] = {}  # noqa: RUF012

        async def stream(self) -> Any:
            for _ in range(100):
                yield b"x"
                await asyncio.sleep(0.01)

    async def received() -> bytes:
        async with Intake().received(Slow()) as data:
            return data

    monkeypatch.setattr(slow_clients, "PATIENCE", 0.05)
    with pytest.raises(InputError, match="longer than"):
        asyncio.run(received())
    monkeypatch.setattr(slow_clients, "PATIENCE", 5.0)
    monkeypatch.setattr(slow_clients, "MOST_BYTES", 20)
    with pytest.raises(InputError, match="more than"):
        asyncio.run(received())


def test_a_very_long_record_keeps_its_latest_falls(tmp_path: Any) -> None:
    days = np.arange("1801-07-01", "2001-07-01", dtype="datetime64[D]")
    text = "date,tmax (degC),tmin (degC),rain (mm)\n" + "".join(f"{d},15,5,1\n" for d in days)
    place = Visitors(tmp_path).take("me", text.encode(), "long.csv", latitude=31.0)
    assert place.years == tuple(range(1881, 2001))
    assert str(place.record["time"].values[0])[:10] == "1881-07-01"


def test_a_visitor_keeps_the_latest_few_files(tmp_path: Any) -> None:
    visitors = Visitors(tmp_path)
    rows_ = ["date,tmax (degC),tmin (degC),rain (mm)"]
    days = np.arange("2001-09-01", "2002-06-01", dtype="datetime64[D]")
    rows_ += [f"{day},15,5,{i % 7}" for i, day in enumerate(days)]
    places = [
        visitors.take("me", "\n".join(rows_).encode(), "a.csv", latitude=31.0) for _ in range(6)
    ]
    assert visitors.place("me", places[-1].key, "").record.sizes["time"] == days.size
    for visitor, key in (("me", places[0].key), ("you", places[-1].key), (None, places[-1].key)):
        with pytest.raises(InputError, match="stays on the computer"):
            visitors.place(visitor, key, "a.csv")
    assert not list(tmp_path.iterdir())
    one = answers.answer(asked(place=places[-1].key, year=2001), places[-1])
    assert answers.chance(one)["said"].startswith("1 fall is too few for a chance")
    assert "Nothing" not in " ".join(answers.sentences(one))
