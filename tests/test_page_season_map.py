"""Views of two sides, the season so far and the map: what they reckon, and what they refuse."""

from __future__ import annotations

import asyncio
from pathlib import Path
from urllib.parse import urlencode

import httpx
import numpy as np
import pytest
import xarray as xr

from simulator.answers.outlook.calculate import outlook
from simulator.answers.outlook.data import dataset
from simulator.answers.risk import risk_at
from simulator.answers.shared.field_ranges import between_fields, difference_ranges
from simulator.page.records import Visitors, place_of, sample_place
from simulator.page.server import make_app
from simulator.page.views import given_file
from simulator.page.views.given_file import KEY, GivenFile
from simulator.page.views.link_query import questions, take_apart
from simulator.page.views.place_sets import PlaceSets
from simulator.page.views.so_far import season_so_far
from simulator.page.views.two_answer import Two, answer_of, between, grown_side
from simulator.problems import InputError
from simulator.season.measured import Measured
from simulator.weather.samples import DEFAULT_SAMPLE, sample_weather, samples_folder

PLAN = {
    "seeding": ["90 lb/acre"],
    "nitrogen": ["30 lb/acre"],
    "nitrogen_timing": ["sowing"],
    "end": ["04-15"],
}
FIELD = {
    "cereal": "rye",
    "soil": "sandy loam",
    "previous_crop": "cotton",
    "fertilizer": "ammonium nitrate",
}


class Client:
    """Asks the page's application as a browser would."""

    def __init__(self, folder: Path) -> None:
        self.app = make_app(8471, Visitors(folder))

    def get(self, path: str) -> httpx.Response:
        async def asked() -> httpx.Response:
            there = httpx.ASGITransport(self.app)
            async with httpx.AsyncClient(
                transport=there, base_url="http://127.0.0.1:8471"
            ) as client:
                return await client.get(path, timeout=60)

        return asyncio.run(asked())


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Client:
    return Client(tmp_path_factory.mktemp("page"))


def sides(query: str, left: xr.Dataset | None = None, right: xr.Dataset | None = None) -> Two:
    """Both sides of a link, with records of their own where they are given."""
    names, records = ("a-", "b-"), (left, right)
    made = []
    for name, asked, record in zip(
        names, questions(take_apart(query, names)), records, strict=True
    ):
        place = sample_place(asked.place) if record is None else place_of(name, record, "us", [])
        made.append(grown_side(name, asked, place))
    return Two(*made)


@pytest.mark.analytic("a difference turned round changes its sign; two errors are wider than one")
@pytest.mark.parametrize("paired", [True, False])
def test_what_lies_between_two_fields(paired: bool) -> None:
    before, after = (
        np.array([2000.0, 3000.0, 4500.0, 5200.0]),
        np.array([2600.0, 2900.0, 6000.0, 1]),
    )
    there = between_fields(before, after, paired=paired)
    back = between_fields(after, before, paired=paired)
    assert (there.low, there.high) == pytest.approx((-back.high, -back.low))
    falls = after - before if paired else (after[:, None] - before).ravel()
    assert there.weather_low >= falls.min()
    assert there.weather_high <= falls.max()
    assert there.low < there.weather_low
    assert there.high > there.weather_high
    same = between_fields(before, before, paired=True)
    assert same.low == pytest.approx(-same.high)
    assert same.high > 0


def test_two_plans_of_one_field_are_paired_by_fall() -> None:
    two = sides(urlencode({"b-sow": "11-20"}))
    assert two.one_field
    made = [side.values("biomass_kg_ha") for side in two.sides]
    assert two.apart("biomass_kg_ha") == pytest.approx(made[1] - made[0])
    assert two.ranges() == difference_ranges(made[1] - made[0])
    found = answer_of(two)
    told = found["table"][0]["cells"][1]
    assert (told["told"] == "") is two.ranges().is_clear
    other = sides(urlencode({"b-sow": "11-20", "b-soil": "loam"}))
    assert not other.one_field
    assert other.ranges().high > two.ranges().high, "each field is off by its own amount"
    assert between(sides(""))["verdict"].startswith("A and B are the same")


def test_falls_of_two_places_are_paired_by_year_or_stand_apart() -> None:
    whole = sample_weather()
    early = whole.sel(time=slice("1995-08-01", "2005-07-31"))
    overlapping = whole.sel(time=slice("1999-08-01", "2024-07-31"))
    apart = whole.sel(time=slice("2003-08-01", "2020-07-31"))
    paired = sides("", early, overlapping)
    assert paired.both == tuple(range(1999, 2005))
    assert paired.paired
    assert paired.apart("biomass_kg_ha") == pytest.approx(np.zeros(6)), "the same weather"
    said = " ".join(between(paired)["said"])
    assert "the 6 that both records have. 4 falls of A and 19 of B have no like" in said
    few = sides(urlencode({"b-sow": "11-20"}), early, apart)
    assert not few.paired
    assert few.apart("biomass_kg_ha").size == 10 * 17
    said = " ".join(between(few)["said"])
    assert "share 2 falls, too few to pair them" in said
    assert "two fields" in said


def test_faults_stand_at_their_fields(client: Client) -> None:
    query = {"a-sow": "10-20", "b-sow": "13-40", "b-nitrogen": "30", "target": "4000", "tune": "1"}
    said = client.get(f"/two/answer?{urlencode(query)}")
    assert said.status_code == 422
    where = [problem["where"] for problem in said.json()["problems"]]
    assert where == ["tune", "target", "b-sow", "b-nitrogen"]
    wrong = [
        ("measured", "850 lb/acre on 01-10"),
        ("measured", "850 lb/acre on 02-01"),
        ("measured", "40 on 01-10"),
        ("measured", "zadoks 22 on 10-01"),
        ("year", "winter"),
    ]
    read = client.get(f"/season/answer?{urlencode(wrong)}").json()["problems"]
    assert [problem["where"] for problem in read] == ["year", "measured-2"]
    late = client.get(f"/season/answer?{urlencode([wrong[0], wrong[1], wrong[3]])}").json()
    assert {problem["where"] for problem in late["problems"]} == {"measured-1", "measured-2"}
    mapped = {"sowings": "10-05,04-20", "set": "samples"}
    (one,) = client.get(f"/map/answer?{urlencode(mapped)}").json()["problems"]
    assert one["where"] == "sowings"
    (none,) = client.get("/map/answer?set=elsewhere").json()["problems"]
    assert none["where"] == "set"


def test_the_season_is_that_of_the_outlook(client: Client) -> None:
    measured = [("measured", "850 lb/acre on 01-10"), ("measured", "zadoks 23 on 01-05")]
    answer = client.get(f"/season/answer?{urlencode(measured)}").json()
    plan = {name: values[0] for name, values in PLAN.items() if name != "end"} | {"sow": "10-20"}
    told = (
        Measured(date="01-10", value=850 * 1.12085),
        Measured(date="01-05", value=23.0, kind="stage"),
    )
    found = outlook(
        sample_weather(), plan, FIELD, ends=["04-15"], with_hindcast=False, measured=told
    )
    row = dataset(found, 4483.4).isel(as_of=-1, end=-1)
    after, before = (
        [round(float(row[f"{of}biomass_{end}_kg_ha"]) / 1.12085, -1) for end in ("low", "high")]
        for of in ("", "untold_")
    )
    assert answer["table"][0][2] == f"{before[0]:,.0f} to {before[1]:,.0f}"
    assert answer["table"][1][2] == f"{after[0]:,.0f} to {after[1]:,.0f}"
    for ends in (before, after):
        assert f"{ends[0]:,.0f} to {ends[1]:,.0f} lb/ac" in answer["before_after"]
    assert "--measured '850 lb/acre on 01-10'" in answer["command"]
    kept = season_so_far.cache_info().misses
    same = [("units", "si"), ("seeding", "90 lb/acre"), ("nitrogen", "30 lb/acre")]
    metric = client.get(f"/season/answer?{urlencode([*measured, *same])}")
    assert "kg/ha" in metric.json()["before_after"]
    assert season_so_far.cache_info().misses == kept, "other units grow nothing anew"


def test_a_weather_file_is_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(given_file, "REST", 0.0)
    lines = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_text().splitlines(keepends=True)
    path = tmp_path / "station.csv"
    path.write_text("".join(lines[:3000]))
    kept = GivenFile(path)
    first = kept.place()
    assert kept.place() is first
    path.write_text("".join(lines[:3010]))
    kept.place()  # it has changed, and must rest
    longer = kept.find(None, KEY)
    assert longer is not None
    assert longer.record.sizes["time"] == first.record.sizes["time"] + 10
    path.write_text("".join([*lines[:3010], "1999-99-99,1,1,1\n"]))
    kept.place()
    assert kept.place() is longer, "what could be read last is kept"
    assert "1999-99-99" in kept.described()["faults"][0]
    path.unlink()
    kept.place()
    assert kept.place() is longer
    path.write_text("".join(lines[:3010]))
    kept.place()
    assert kept.place() is not longer
    assert kept.described()["faults"] == []
    assert kept.find(None, "another") is None


def test_the_map_has_the_chances_of_risk(client: Client) -> None:
    query = urlencode({"set": "samples", "sowings": "11-05, 10-05,10-20,11-20", "sow": "11-05"})
    found = client.get(f"/map/answer?{query}").json()
    assert [sow for sow, _ in found["sowings"]] == ["10-05", "10-20", "11-05", "11-20"]
    assert len(found["points"]) == 6
    point = next(one for one in found["points"] if one["key"] == DEFAULT_SAMPLE)
    sowings = [sow for sow, _ in found["sowings"]]
    risk = risk_at(sample_weather(), {**PLAN, "sow": sowings}, FIELD, target=4483.4, latest=False)
    chances = risk.table["chance_percent"].isel(kind=0).values.ravel()
    assert point["chance"] == pytest.approx(chances, abs=0.06)
    assert point["best"]["at"] == int(np.argmax(chances))
    low, high = found["domain"]
    known = [one for each in found["points"] for one in each["chance"]]
    assert low <= min(known) < max(known) <= high
    assert len(found["sentences"]) == 4
    rows = client.get(f"/map/table.csv?{query}").text.splitlines()
    assert len([row for row in rows if not row.startswith("#")]) == 1 + 6 * 4


def test_sets_of_places_are_their_visitors(tmp_path: Path) -> None:
    visitors = Visitors(tmp_path)
    sets = PlaceSets(visitors, str(samples_folder()))
    visitors.shelves.append(sets.find)
    assert sets.listed()[0][0] == "given"
    chosen = sets.find_set(None, "given", "")
    assert len(chosen.read(2)) == 2
    third = visitors.place(None, "map-given-3", "")
    assert third.record.attrs["invented"] == "yes"
    one = (samples_folder() / f"{DEFAULT_SAMPLE}.csv").read_bytes()
    with pytest.raises(InputError, match="the weather of one place"):
        sets.take("me", one, "one.csv")
    whole = np.arange("1999-08-01", "2006-08-01", dtype="datetime64[D]").astype(str).tolist()
    table = "station,latitude,longitude,date,tmax (degC),tmin (degC),rain (mm)\n" + "".join(
        f"{name},{latitude},{longitude},{day},18,6,2\n"
        for name, latitude, longitude in (("north", 33.0, -88.0), ("south", 31.0, -89.0))
        for day in whole
    )
    made = sets.take("me", table.encode(), "two.csv")
    assert [str(place.record.attrs["site"]) for place in made.places] == ["north", "south"]
    assert visitors.place("me", made.places[1].key, "") is made.places[1]
    with pytest.raises(InputError, match="There is no place"):
        visitors.place("another", made.places[1].key, "")
    with pytest.raises(InputError, match=r"was made with the file 'two\.csv'"):
        sets.find_set("another", made.key, "two.csv")
