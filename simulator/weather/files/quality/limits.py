"""The limits that daily values are held to.

References
----------
World Meteorological Organization, Archive of Weather and Climate Extremes: highest temperature
56.7 degC (Furnace Creek, 10 July 1913), greatest 24-hour rain 1825 mm (Foc-Foc, La Reunion,
7-8 January 1966). Wettest place by yearly mean: Mawsynram, about 11,900 mm. Lows are bounded
at -60 degC, below any place at which cereals are sown.
"""

from __future__ import annotations

import numpy as np

COLDEST, HOTTEST = -60.0, 57.0  # degC
WETTEST, VERY_WET = 1825.0, 400.0  # mm in a day
WETTEST_YEAR, WET_YEAR, DRY_YEAR = 12_000.0, 5_000.0, 100.0  # mm in a mean year
BRIGHTEST = (
    45.0  # MJ m-2 in a day, above all that the sun sends; used where the latitude is unknown
)
SUMMER_GAP = 60  # days; a longer gap between rows is the summer between two winters
STUCK_BOTH, STUCK_ONE = 5, 10  # days of the same values that make one doubt the reading

SENTINELS = np.array([
    88.0, 88.8, 88.88, 99.0, 99.9, 99.99, 888.0, 888.8, 999.0, 999.9, 999.99,
    6999.0, 8888.0, 9999.0, 9999.9, 99999.0, 32767.0, 32768.0,
])  # fmt: skip
SENTINEL_FROM = 888.0  # mm in a day: possible, but a sentinel where it is written as one
