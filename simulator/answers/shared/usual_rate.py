"""The rate of nitrogen that sentences speak of, where several are asked for."""

from __future__ import annotations

from collections.abc import Sequence

ORDINARY_RATE = 67.25  # kg/ha (60 lb/ac): sentences speak of the rate nearest to it


def nearest(rates: Sequence[float]) -> float:
    """Return the rate nearest to the ordinary one [kg/ha], of two the first."""
    return min(rates, key=lambda rate: abs(rate - ORDINARY_RATE))
