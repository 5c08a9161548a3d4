"""The arguments of a run of a grid, refused where they cannot be used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from simulator.problems import Parameter, Text, fault
from simulator.season import arguments
from simulator.season.day.record import FIELDS
from simulator.season.layout import texts_of
from simulator.weather.change_text import parse_change
from simulator.weather.places import Place

_SETS = ("cereal", "soil", "previous_crop", "fertilizer")  # of the arguments of `lay_out`
_TEXTS = ("sow", "seeding", "nitrogen", "nitrogen_timing", "end")
_PLAN = (*_TEXTS, *_SETS, "layers")


def bytes_of(memory: str) -> int:
    """Read an amount of memory, such as ``"2 GB"``.

    Raises
    ------
    InputError
        It cannot be read.
    """
    from dask.utils import parse_bytes

    try:
        read = int(parse_bytes(memory)) if any(c.isdigit() for c in str(memory)) else 0
    except (ValueError, KeyError, TypeError, OverflowError) as error:
        raise fault(
            Parameter("memory"), f"'{memory}' is no amount of memory.", "Write 2 GB."
        ) from error
    if read <= 0:
        raise fault(Parameter("memory"), f"'{memory}' is no amount of memory.", "Write 2 GB.")
    return read


def check(
    places: Any,
    fields: Any,
    changes: Any,
    workers: Any,
    out: Any,
    memory: Any,
    cluster: Any,
    plan: dict[str, Any],
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Refuse arguments that cannot be used; return fields and changes.

    Raises
    ------
    InputError
    """
    arguments.known(plan, _PLAN, whose="run_grid")
    arguments.sets(**{name: plan[name] for name in _SETS if name in plan})
    kept = {name: plan[name] for name in _TEXTS if name in plan}
    plan.update(zip(kept, arguments.texts(**kept), strict=True))
    if plan.get("layers") is not None:
        arguments.whole(plan["layers"], name="layers", such=10)
    if isinstance(fields, Sequence) and not fields:
        raise fault(Parameter("fields"), "No field is given.", f"Take of {', '.join(FIELDS)}.")
    fields, changes = arguments.texts(fields=fields, changes=changes or ())
    change_texts = tuple(texts_of(changes, split=False))
    for change in change_texts:
        parse_change(change)
    if isinstance(places, str) or not isinstance(places, Sequence):
        raise fault(
            "places",
            f"{arguments.shown(places)} is not a list of places.",
            "Write places, left_out = find_places('weather'), and give places.",
        )
    if not places:
        raise fault("weather", "There is no place that can be run.")
    if wrong := [place for place in places if not isinstance(place, Place)]:
        raise fault(
            "places",
            f"{arguments.shown(wrong[0])} is not a place.",
            "Write places, left_out = find_places('weather'), and give places.",
        )
    names = texts_of(fields)
    if unknown := [name for name in names if name not in FIELDS]:
        raise fault(
            Parameter("fields"), f"'{unknown[0]}' is no field.", f"Take of {', '.join(FIELDS)}."
        )
    arguments.path(out, name="out", such="grid.zarr")
    if not isinstance(memory, str):
        raise fault("memory", f"{arguments.shown(memory)} is not text.", "Write memory='2 GB'.")
    if workers is not None:
        arguments.whole(workers, name="workers", such=2)
        if workers < 1:
            raise fault(
                Parameter("workers"), f"{workers} workers cannot do anything.", "Give 1 or more."
            )
    if workers is not None and cluster is not None:
        raise fault(
            Parameter("workers"),
            Text("The cluster has its own workers, and ", Parameter("cluster"), " is given."),
            "Leave one out.",
        )
    return tuple(names), change_texts
