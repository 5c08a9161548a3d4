"""A slice of the random seasons; ``python -m tests.fuzz.balances`` grows thousands."""

from __future__ import annotations

import pytest

from tests.fuzz.balances import CLOSE, open_balances, season, worst

SEASONS = 200
FIRST = 50_000  # others than those of the ten thousand


@pytest.mark.analytic("conservation of mass: what came in is there or went out, every day")
def test_two_hundred_seasons_balance() -> None:
    found = [one for of_season in worst(range(FIRST, FIRST + SEASONS)) for one in of_season]
    assert len(found) == 3 * SEASONS
    assert {one.kind for one in found} == {"water", "nitrogen", "dry matter"}
    assert [one for one in found if not one.error < CLOSE] == []


@pytest.mark.parametrize(
    ("lost", "kind"),
    [
        ("drainage_mm", "water"),
        ("nitrate_leached_kg_ha", "nitrogen"),
        ("shed_leaf_kg_ha", "dry matter"),
    ],
)
def test_what_is_lost_shows(lost: str, kind: str) -> None:
    days, rain = season(FIRST)
    days[lost] = days[lost] + 2 * CLOSE
    opened = [name for name, error in open_balances(days, rain).items() if abs(error).max() > CLOSE]
    assert opened == [kind]
