"""What ranges and chances promise, held against trials: scores by hand, and the page."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from docs.maker import promises
from docs.maker.errors import Errors
from docs.maker.open_trials import open_trials
from docs.maker.promises import Told
from simulator.parameters.model_error import LEVEL, PROMISES

MEASURED, ALIKE = np.array([2.0, 5.0]), np.array([1.0, 1.0])


@pytest.mark.analytic("a single number scores its error; 1 to 3 about 2 scores 2/9 by hand")
def test_scores_by_hand() -> None:
    told = Told("numbers", [np.array([1.0]), np.array([9.0])])
    assert told.score(MEASURED, ALIKE) == pytest.approx((1.0 + 4.0) / 2)
    assert told.score(MEASURED, np.array([1.0, 3.0])) == pytest.approx((1.0 + 3 * 4.0) / 4)
    # E|X - y| = 2/3, E|X - X'| / 2 = 4/9
    spread = Told("three", [np.array([1.0, 2.0, 3.0])])
    assert spread.score(np.array([2.0]), np.ones(1)) == pytest.approx(2 / 3 - 4 / 9)


@pytest.mark.analytic("the middle 80 of the numbers 0 to 100 are 10 to 90")
def test_the_share_inside_and_the_chance_by_hand() -> None:
    even = Told("even", [np.arange(101.0)] * 4)
    inside = even.inside(np.array([9.0, 10.0, 90.0, 91.0]), np.array([1.0, 1.0, 1.0, 5.0]), 0.8)
    assert inside == pytest.approx(2.0 / 8.0)
    assert even.chance(50.0) == pytest.approx([51 / 101] * 4)


@pytest.mark.analytic("a member of weight 2 counts as two of weight 1")
def test_weighed_members_become_alike() -> None:
    values = np.arange(100.0)
    twice = promises._alike(values, np.where(values < 50.0, 2.0, 1.0), 999)
    assert (twice < 50.0).mean() == pytest.approx(2 / 3, abs=0.01)


@pytest.fixture(scope="module")
def known(open_data: Path) -> tuple[list[Told], Errors]:
    """What the fits without each place told of its rows, the weather known."""
    ways, _, level = promises.with_weather(open_trials(open_data))
    return ways, level


def rows_of(section: str, head: str) -> list[list[str]]:
    """Return the cells of the table whose head begins so."""
    lines = section.partition(f"\n| {head}")[2].partition("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


@pytest.mark.fitted("Huddell et al. 2024, Scientific Data 11:200; each place by fits without it")
def test_the_page_says_what_was_told_and_found(known: tuple[list[Told], Errors]) -> None:
    ways, level = known
    page = promises.PAGE.read_text(encoding="utf-8")
    section = page.split(promises.BEGINS)[1].split(promises.ENDS)[0]
    behind = "python -m docs.maker promises"
    scores = [[one.name, f"{one.score(level.measured, level.weights):,.0f}"] for one in ways]
    assert rows_of(section, "the season's weather known") == scores, behind
    held = [
        [f"{100 * promise:.0f}"]
        + [f"{100 * one.inside(level.measured, level.weights, promise):.0f}" for one in ways[1:]]
        for promise in PROMISES
    ]
    assert [row[:3] for row in rows_of(section, "promised")] == held, behind
    assert f"{level.season.size} rows, {LEVEL.seasons:.0f} site-seasons" in " ".join(
        section.split()
    )


@pytest.mark.fitted("Huddell et al. 2024, Scientific Data 11:200; each place by fits without it")
def test_bands_of_the_model_and_the_field_hold_what_they_promise(
    known: tuple[list[Told], Errors],
) -> None:
    (alone, field, _), level = known
    for promise in PROMISES:
        inside = field.inside(level.measured, level.weights, promise)
        assert inside == pytest.approx(promise, abs=2.0 * np.sqrt(0.25 / LEVEL.seasons))
    # and the error is worth telling: a number alone scores worse
    assert field.score(level.measured, level.weights) < alone.score(level.measured, level.weights)


def test_without_the_trials_the_page_stays(tmp_path: Path) -> None:
    page = tmp_path / "outlook.md"
    page.write_text("as it was")
    assert "not here" in promises.renew(tmp_path / "open-data", page)
    assert page.read_text() == "as it was"
