"""Indices of sensitivity as rows, for files, JSON and the chart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.sensitivity.calculate import OUTCOMES, Varied
from simulator.answers.sensitivity.indices import Indices

if TYPE_CHECKING:
    import xarray as xr

Row = dict[str, Any]
_NUMBERS = ("first", "first_low", "first_high", "total", "total_low", "total_high")


def rows_of(found: Mapping[str, Indices], parameters: Sequence[Varied]) -> list[Row]:
    """Lay the indices out as rows: place by place, outcome by outcome, the largest total first."""
    rows: list[Row] = []
    for site, one in found.items():
        for at, outcome in enumerate(OUTCOMES):
            for p in np.argsort(-np.nan_to_num(one.total[at]), kind="stable"):
                varied = parameters[p]
                numbers = (
                    one.first[at, p],
                    *one.first_within[at, p],
                    one.total[at, p],
                    *one.total_within[at, p],
                )
                rows.append(
                    {
                        "site": site,
                        "outcome": outcome,
                        "of": varied.kind,
                        "parameter": varied.name,
                        "unit": varied.unit,
                        "default": varied.default,
                        "low": varied.low,
                        "high": varied.high,
                        **{
                            name: float(value) if np.isfinite(value) else None
                            for name, value in zip(_NUMBERS, numbers, strict=True)
                        },
                    }
                )
    return rows


def dataset(found: Mapping[str, Indices], parameters: Sequence[Varied]) -> xr.Dataset:
    """Return the indices along site, outcome and parameter."""
    import xarray as xr

    def stacked(name: str, place: int | None = None) -> Any:
        values = np.stack([getattr(one, name) for one in found.values()])
        return ("site", "outcome", "parameter"), values if place is None else values[..., place]

    data = xr.Dataset(
        {
            "first": stacked("first"),
            "first_low": stacked("first_within", 0),
            "first_high": stacked("first_within", 1),
            "total": stacked("total"),
            "total_low": stacked("total_within", 0),
            "total_high": stacked("total_within", 1),
            "default": ("parameter", [one.default for one in parameters]),
            "low": ("parameter", [one.low for one in parameters]),
            "high": ("parameter", [one.high for one in parameters]),
        },
        {
            "site": list(found),
            "outcome": list(OUTCOMES),
            "parameter": [one.name for one in parameters],
        },
    )
    for name in _NUMBERS:
        data[name].attrs["units"] = "1"
    return data
