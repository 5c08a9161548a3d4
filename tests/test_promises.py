"""What ranges and chances promise, held against trials: scores by hand, and the page."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from docs.maker import promises
from docs.maker.promises import Told

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


def test_without_the_trials_the_page_stays(tmp_path: Path) -> None:
    page = tmp_path / "outlook.md"
    page.write_text("as it was")
    assert "not here" in promises.renew(tmp_path / "open-data", page)
    assert page.read_text() == "as it was"


def test_the_page_has_the_section() -> None:
    page = promises.PAGE.read_text(encoding="utf-8")
    section = page.split(promises.BEGINS)[1].split(promises.ENDS)[0]
    assert "falls and field" in section
    assert "the regression and its error" in section
