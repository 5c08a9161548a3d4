"""The arithmetic of the scaling script, on figures made up for it."""

from __future__ import annotations

import pytest
import scaling
from scaling import Measured

STEPS = {"growing": 0.9, "reading": 0.05, "preparing": 0.03, "writing": 0.02}


def measured(seasons_each: float, start: float) -> list[Measured]:
    """Grids that take a start and so much a season, without a miss."""
    found = []
    for size in scaling.sizes(1000, 30):
        seconds = start + seasons_each * size.seasons / (1.9 if size.workers == 2 else 1.0)
        steps = {step: share * seconds * size.workers for step, share in STEPS.items()}
        found.append(Measured(size, seconds, 3e8, 20 * size.seasons, steps))
    return found


def test_the_grids_run_from_ten_thousand_to_three_million_seasons():
    sizes = scaling.sizes(1000, 30)
    assert min(size.seasons for size in sizes) <= 12_000
    assert max(size.seasons for size in sizes) == 3_000_000
    assert {size.workers for size in sizes if size.seasons == 3_000_000} == {1, 2}


@pytest.mark.analytic("a straight line through points on a straight line")
def test_a_straight_line_is_found():
    for line in scaling.lines_of(measured(2e-5, 3.0)).values():
        assert scaling.straight(line) == pytest.approx((3.0, 2e-5 / 1.9, 0.0), abs=1e-9)


@pytest.mark.analytic("(start + n c) / (start + n c / 1.9), by hand")
def test_the_page_tells_what_was_measured():
    page = scaling.tables(measured(2e-5, 3.0))
    assert "With 3,000,000 seasons two workers are 1.82 times as fast as one." in page
    assert "3,000,000 seasons in 34.6 s by 2" in page
    assert "| 62.2 | 90.0% |" in " ".join(page.split())
    assert "400,000,000" in page
    assert "8.0 GB in 30,000 files" in page  # 20 bytes a season
