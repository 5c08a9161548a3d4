"""Plans of a season share their days until they part, and come to what each alone comes to."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loop_members import Members, grown, sample_members

from simulator.season.compare import run_members
from simulator.season.day import calendar
from simulator.season.day.branching import Plans, branch_plans, same_today
from simulator.season.day.calendar import BY_BIOMASS, BY_DATE, BY_STAGE
from simulator.season.day.loop import grow_members

NEVER = calendar.NEVER
Day = np.ndarray[Any, Any]

RYE, OAT = "rye in a mild winter", "oat that frost kills"


@cache  # not at import: it compiles, which each worker would do before its first test
def members_at(place: str) -> Members:
    if place == RYE:
        return sample_members(years=3)
    return sample_members(
        "hollin-reach", cereal="oat", soil="sandy loam", fertilizer="urea", years=3
    )


@st.composite
def members_of_plans(draw: st.DrawFn) -> Members:
    """Plans drawn from few days and rates, so that many do the same for a while, or always."""
    place = members_at(draw(st.sampled_from([RYE, OAT])))
    count = draw(st.integers(2, 9))
    some_days = draw(st.lists(st.integers(55, 300), min_size=1, max_size=3))

    def each(*values: float, size: int = count) -> np.ndarray[Any, Any]:
        return np.array(draw(st.lists(st.sampled_from(values), min_size=size, max_size=size)))

    seasons = len(place.spans)
    first = place.spans[:, 0] + each(-5, 0, 31, size=seasons)
    ends = draw(
        st.lists(
            st.sampled_from(
                [
                    (BY_DATE, 200, np.nan),
                    (BY_DATE, 288, np.nan),
                    (BY_STAGE, NEVER, 21.0),
                    (BY_STAGE, NEVER, 31.0),
                    (BY_BIOMASS, NEVER, 400.0),
                    (BY_BIOMASS, NEVER, 2500.0),
                ]
            ),
            min_size=1,
            max_size=3,
        )
    )
    return replace(
        place,
        spans=np.column_stack([first, place.spans[:, 1]]),
        seasons=np.repeat(np.arange(seasons), count),
        plans=np.tile(np.arange(count), seasons),
        sow_days=np.tile(each(105, 112, *some_days), (seasons, 1)),
        seedings=each(70.0, 100.0),
        dressing_days=np.tile(
            each(NEVER, 105, 229, *some_days, size=2 * count).reshape(count, 2), (seasons, 1, 1)
        ),
        dressing_amounts=each(0.0, 0.0, 34.0, 68.0, size=2 * count).reshape(count, 2),
        end_kinds=np.array([kind for kind, _, _ in ends]),
        end_days=np.tile([day for _, day, _ in ends], (seasons, 1)),
        end_values=np.array([value for *_, value in ends]),
    )


def each_alone(members: Members) -> Day:
    """Every member run on its own from the first day, sharing nothing."""
    out = members.room()
    for member in range(members.count):
        grow_members(*members.arguments(member, member + 1, out))
    return out


@settings(max_examples=60, deadline=None)
@given(members_of_plans(), st.integers(1, 12), st.integers(1, 3))
def test_plans_together_come_to_what_each_alone_comes_to(
    members: Members, chunk: int, threads: int
) -> None:
    alone = each_alone(members).tobytes()
    assert grown(members).tobytes() == alone
    out = members.room()
    for low in range(0, members.count, chunk):
        grow_members(*members.arguments(low, min(low + chunk, members.count), out))
    assert out.tobytes() == alone
    out = members.room()
    drivers, spans, _, _, *rest = members.arguments(0, members.count, out)
    run_members(members.count, threads, drivers, spans, *rest)
    assert out.tobytes() == alone


@pytest.mark.parametrize("threads", [1, 2, 5])
def test_members_in_any_order_come_to_the_same(threads: int) -> None:
    members = sample_members(years=24)
    order = np.random.default_rng(2).permutation(members.count)
    mixed = replace(members, seasons=members.seasons[order], plans=members.plans[order])
    out = mixed.room()
    drivers, spans, _, _, *rest = mixed.arguments(0, mixed.count, out)
    run_members(mixed.count, threads, drivers, spans, *rest)
    assert out.tobytes() == grown(members)[order].tobytes()


# sowing day, seeding, days and amounts of two dressings
SOWN = (105, 70.0, (105, 229), (0.0, 34.0))


@pytest.mark.parametrize(
    ("other", "days_apart"),
    [
        (SOWN, []),
        ((105, 70.0, (NEVER, 229), (50.0, 34.0)), []),  # what never goes on is no dressing
        ((105, 70.0, (140, 229), (0.0, 34.0)), []),  # nor is one of nothing
        ((105, 70.0, (229, 229), (17.0, 17.0)), []),  # twice half on a day is the whole
        ((105, 100.0, (105, 229), (0.0, 34.0)), [105]),  # seeding counts on the day of sowing
        ((112, 70.0, (112, 229), (0.0, 34.0)), [105, 112]),
        ((105, 70.0, (105, 229), (10.0, 34.0)), [105]),
        ((105, 70.0, (105, 230), (0.0, 34.0)), [229, 230]),
    ],
)
def test_days_on_which_plans_differ(other: tuple[Any, ...], days_apart: list[int]) -> None:
    plans = Plans(*(np.array(pair) for pair in zip(SOWN, other, strict=True)))
    assert [day for day in range(62, 335) if not same_today(day, 0, 1, plans)] == days_apart


def test_who_leads_whom() -> None:
    """The first sowing parts from the rest, rates part at sowing, a dressing of nothing never."""
    sow_days = np.array([105, 105, 105, 112, 112, 112])
    rates = np.array([[0.0], [0.0], [34.0], [0.0], [34.0], [0.0]])
    on = np.array([[105], [229], [105], [112], [229], [229]])
    plans = Plans(sow_days, np.full(6, 70.0), on, rates)
    leader, branched_from, leaders = np.zeros((3, 6), dtype=np.int64)
    leading, seen = 1, {}
    for day in (105, 112, 229):
        leading = branch_plans(day, np.arange(6), plans, leader, branched_from, leaders, leading)
        seen[day] = leader.tolist()
    assert seen == {
        105: [0, 0, 2, 3, 3, 3],
        112: [0, 0, 2, 3, 3, 3],
        229: [0, 0, 2, 3, 4, 3],
    }
    assert leaders[:leading].tolist() == [0, 2, 3, 4]
    assert branched_from[leaders[:leading]].tolist() == [0, 0, 0, 3]


def test_examples_reach_what_they_are_for() -> None:
    """Guard against plans that agree because the stand dies or lives in all of them."""
    rye, oat = (grown(members_at(place)) for place in (RYE, OAT))
    assert (rye["stand_alive"] == 1.0).all()
    assert (oat["stand_alive"] == 0.0).any() and (oat["biomass_kg_ha"] > 100.0).any()
