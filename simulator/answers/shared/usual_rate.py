"""The rate of nitrogen that sentences speak of, where several are asked for."""

from __future__ import annotations

ORDINARY_RATE = 67.25  # kg/ha (60 lb/ac): sentences speak of the rate nearest to it
