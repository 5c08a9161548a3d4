"""Many places at once: tables that rank them, maps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.answers.faces import face

if TYPE_CHECKING:
    from simulator.answers.places.ask import each_place
    from simulator.answers.places.map_file import write_map

__all__ = ["each_place", "write_map"]

__getattr__ = face(__name__, {"each_place": "ask", "write_map": "map_file"})
