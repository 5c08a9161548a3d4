"""Many places at once: tables that rank them, maps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.lazy_exports import lazy_names

if TYPE_CHECKING:
    from simulator.answers.places.map_file import write_map
    from simulator.answers.places.split_grid import each_place

__all__ = ["each_place", "write_map"]

__getattr__ = lazy_names(__name__, {"each_place": "split_grid", "write_map": "map_file"})
