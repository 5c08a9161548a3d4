"""What decides the numbers of a grid, and what a store says of itself."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from simulator import __version__
from simulator.parameters.soils import Soil
from simulator.problems import shown_path
from simulator.season.grid.batch import version
from simulator.season.grid.finished import Identity
from simulator.season.layout import Layout
from simulator.weather.places import Place


def identity(
    layout: Layout,
    soils: dict[str, Soil],
    places: Sequence[Place],
    fields: Sequence[str],
    years: Sequence[int] | None,
    changes: Sequence[str],
) -> Identity:
    """Return what decides the numbers, by names that a message may use.

    Parameters
    ----------
    layout : Layout
    soils : dict of Soil
        That places name.
    places : sequence of Place
    fields : sequence of str
    years : sequence of int or None
        As asked for.
    changes : sequence of str

    Returns
    -------
    dict
        As JSON gives it back; files of weather by their content, wherever they lie.
    """
    where = [
        (
            p.site,
            Path(p.source).name,
            p.index,
            p.latitude,
            p.longitude,
            p.soil,
            *([] if p.station is None else [p.station]),
        )
        for p in places
    ]
    found = {
        "the version": version(),
        "the sowing dates": layout.sowings,
        "the seeding rates": layout.seedings,
        "the nitrogen rates": layout.rates,
        "the nitrogen timings": layout.timing_texts,
        "the ends": [end.text for end in layout.ends],
        **_parameters(layout),
        "the soils of the places": {name: asdict(soil) for name, soil in soils.items()},
        "the soil's layers": layout.layers,
        "the changes of the weather": changes,
        "the fields": fields,
        "the fall years": "all" if years is None else years,
        "the places": hashlib.sha256(json.dumps(where).encode()).hexdigest(),
        "the weather": weather_digest(places),
    }
    decided: Identity = json.loads(json.dumps(found))
    return decided


def _parameters(layout: Layout) -> dict[str, Any]:
    return {
        "the cereal": asdict(layout.cereal),
        "the soil": asdict(layout.soil),
        "the previous crop": asdict(layout.previous_crop),
        "the fertilizer": asdict(layout.fertilizer),
    }


def store_attributes(
    layout: Layout, places: Sequence[Place], changes: Sequence[str], command: str
) -> dict[str, str]:
    """Return what a store says of its origin, as texts, none empty."""
    sources = sorted({Path(place.source).name for place in places})
    more = f" and {len(sources) - 3} more" if len(sources) > 3 else ""
    kept = {
        "title": f"Seasons of {layout.cereal.name} by plan, fall and place: "
        f"{len(layout.combinations)} plans at {len(places)} places",
        "made_by": f"fallsown {__version__}",
        "history": f"{command or 'run_grid'} (fallsown {__version__})",
        "command_line": command,
        "weather": ", ".join(sources[:3]) + more,
        "changes": "; ".join(changes),
        **layout.names(),
        "sow": ", ".join(layout.sowings),
        "seeding_kg_ha": ", ".join(f"{rate:.8g}" for rate in layout.seedings),
        "nitrogen_kg_ha": ", ".join(f"{rate:.8g}" for rate in layout.rates),
        "nitrogen_timing": ", ".join(layout.timing_texts),
        "end": ", ".join(end.text for end in layout.ends),
        "parameters": json.dumps(_parameters(layout)),
    }
    return {name: shown_path(text) for name, text in kept.items() if text}


def weather_digest(places: Sequence[Place]) -> str:
    """Return the hash of all weather files of places, by their content."""
    digest = hashlib.sha256()
    for source in sorted({place.source for place in places}):
        path = Path(source)
        files = sorted(p for p in path.rglob("*") if p.is_file()) if path.is_dir() else [path]
        for file in files:
            digest.update(file.name.encode("utf-8", "surrogateescape"))
            # a packaged sample is known by its name; what cannot be read is told later
            with suppress(OSError), file.open("rb") as opened:
                digest.update(hashlib.file_digest(opened, "blake2b").digest())
    return digest.hexdigest()
