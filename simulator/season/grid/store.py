"""Where the results of a grid go: built beside the name wanted, which they take when whole.

``results.zarr.unfinished`` holds what an interrupted run goes on from, and is no store that a
reader would open: ``plan.json``, what decides the numbers; ``weather``, the records of text files,
read once; ``apart``, tables of many stations split, until these are read; ``results``, the
arrays; ``arrays.json``, checksums of what they have before a batch is written; ``done``, a note for
each batch that is written, with checksums of its chunks and of the weather that it read.

Zarr format 2: its way with texts and with one list of all metadata is settled, that of format 3
is not yet. Shuffled and packed by zstd, not by Blosc, whose threads order its bytes as they come.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.problems import InputError, Parameter, Text, fault, shown_path
from simulator.season.compiling import Announce
from simulator.season.grid import checksums
from simulator.season.grid.finished import (
    MEANINGS,
    OF_A_SITE,
    TEXTS,
    Identity,
    damage_of,
    identity_of,
    take_back,
)
from simulator.season.grid.unfinished import UnfinishedStore, locked, write_text

if TYPE_CHECKING:
    import xarray as xr

SUFFIXES = (".zarr", ".nc")


def _check_name(path: Path) -> None:
    """Refuse a name that no grid can have."""
    if path.suffix.lower() not in SUFFIXES:
        raise fault(
            Parameter("out"),
            f"'{path.name}' does not end in .zarr or .nc.",
            "Give it one of these endings.",
        )
    try:
        beside = path.resolve().parent
    except (OSError, RuntimeError) as error:
        raise fault(
            Parameter("out"), f"'{path}' is a link that leads back to itself.", "Name another."
        ) from error
    if not beside.is_dir():
        raise fault(Parameter("out"), f"There is no folder '{path.parent}'.", "Make it first.")


def begin(
    path: Path,
    identity: Identity,
    attributes: dict[str, str],
    *,
    overwrite: bool,
    announce: Announce,
) -> bool:
    """Make room for a grid, or find what there is of it.

    Parameters
    ----------
    path : Path
        Ends in .zarr or .nc.
    identity : dict
        What decides the numbers, by names that people read.
    attributes : dict of str
        What the store says of itself besides; that of the first run stays.
    overwrite : bool
        Whether results of another plan may go.
    announce : callable
        Told what of a store that is there is damaged, and run again.

    Returns
    -------
    bool
        Whether the grid is there already, and whole.

    Raises
    ------
    InputError
        Results of another plan, something else under that name, a folder that cannot be written.
    """
    _check_name(path)
    unfinished = UnfinishedStore(path)
    plan = {"identity": identity, "told": attributes}
    if path.exists():
        found = identity_of(path)
        if found == identity:
            if _read_plan(unfinished) == identity:  # stopped after the store had its name
                shutil.rmtree(unfinished.folder)
            return not _taken_back(path, unfinished, plan, announce)
        if found is None and path.is_dir():
            raise fault(
                Parameter("out"), f"'{path}' is no store that fallsown wrote.", "Name another."
            )
        if not overwrite:
            raise _another(path, found, identity)
    if unfinished.folder.exists():
        found = _read_plan(unfinished)
        if found == identity:
            return False
        if found is not None:
            if not overwrite:
                raise _another(unfinished.folder, found, identity)
            with locked(unfinished):
                pass
        elif unfinished.notes() and not overwrite:
            raise fault(
                Parameter("out"),
                f"'{unfinished.plan}' is damaged, and says no more what the results belong to.",
                Text("Name another, or add ", Parameter("overwrite"), " to begin anew."),
            )
        shutil.rmtree(unfinished.folder)
    (unfinished.folder / "done").mkdir(parents=True)
    unfinished.weather.mkdir()
    write_text(unfinished.plan, json.dumps(plan, indent=1))
    return False


def _taken_back(
    path: Path, unfinished: UnfinishedStore, plan: dict[str, Any], announce: Announce
) -> bool:
    """Take back a whole store that is damaged; return whether it was."""
    damaged = damage_of(path)
    if damaged:
        announce(f"{shown_path(path.name)} is damaged: {checksums.some_of(damaged)}.")
        shutil.rmtree(unfinished.folder, ignore_errors=True)
        take_back(path, unfinished, plan, damaged)
    return bool(damaged)


def _read_plan(unfinished: UnfinishedStore) -> Identity | None:
    """Return what decides the numbers; None where it was stopped before that, or is damaged."""
    plan = checksums.read_json(unfinished.plan)
    if not isinstance(plan, dict) or checksums.texts_by_name(plan.get("told")) is None:
        return None
    identity = plan.get("identity")
    return identity if isinstance(identity, dict) else None


def _another(path: Path, found: Identity | None, identity: Identity) -> InputError:
    if found is None:
        what = f"'{path}' exists, and is not from this plan."
    else:
        differing = [name for name in identity if found.get(name) != identity[name]]
        what = f"'{path}' holds the results of another plan; not the same: {', '.join(differing)}."
    remedy = Text("Name another, or add ", Parameter("overwrite"), " to replace it.")
    return fault(Parameter("out"), what, remedy)


def make_arrays(
    unfinished: UnfinishedStore,
    coordinates: xr.Dataset,
    dimensions: Sequence[str],
    fields: Sequence[str],
    places_at_once: int,
) -> int:
    """Make the arrays that batches are written to, where they are not there yet.

    Parameters
    ----------
    unfinished : UnfinishedStore
    coordinates : Dataset
        With an index coordinate for each dimension, and those of the sites.
    dimensions : sequence of str
        Of the fields, the sites first.
    fields : sequence of str
    places_at_once : int
        Places in a batch.

    Returns
    -------
    int
        Places in a batch, as the first run had them.
    """
    import zarr
    from numcodecs import Shuffle, Zstd

    if unfinished.results.exists() and _arrays_as_made(unfinished):
        first = zarr.open_array(unfinished.results / fields[0], mode="r", zarr_format=2)
        return int(first.chunks[0])
    for note in (unfinished.folder / "done").glob("*.json"):
        note.unlink()
    shutil.rmtree(unfinished.results, ignore_errors=True)
    made = unfinished.results.with_name("results.new")
    shutil.rmtree(made, ignore_errors=True)
    coordinates.to_zarr(made, zarr_format=2, consolidated=False)
    shape = tuple(coordinates.sizes[name] for name in dimensions)
    for name in fields:
        unit, meaning = MEANINGS[name]
        zarr.create_array(
            made,
            name=name,
            shape=shape,
            chunks=(places_at_once, *shape[1:]),
            dtype="f8",
            fill_value=np.nan,
            filters=[Shuffle(8)],
            compressors=Zstd(1),
            zarr_format=2,
            attributes={
                "_ARRAY_DIMENSIONS": list(dimensions),
                "units": unit,
                "long_name": meaning,
                "coordinates": " ".join(OF_A_SITE),
            },
        )
    (made / ".zgroup").unlink()  # so that no reader takes it for whole
    # what stands beside the arrays is written again at the end
    kept = [name for name in checksums.files_of(made) if "/" in name]
    write_text(unfinished.array_checksums, json.dumps(checksums.checksums_of(made, kept)))
    made.rename(unfinished.results)
    return places_at_once


def _arrays_as_made(unfinished: UnfinishedStore) -> bool:
    expected = checksums.texts_by_name(checksums.read_json(unfinished.array_checksums))
    return bool(expected) and not checksums.damaged(unfinished.results, expected or {})


def write_batch(
    unfinished: UnfinishedStore,
    batch: int,
    first: int,
    values: dict[str, np.ndarray[Any, Any]],
    report: dict[str, Any],
) -> None:
    """Write a batch: its arrays, then the note that they are written.

    Parameters
    ----------
    unfinished : UnfinishedStore
    batch : int
        Its number.
    first : int
        Row of its first place.
    values : dict of array
        By field, the places first.
    report : dict
        ``left_out`` and ``notes``, a text for each place; ``grown``, how many seasons ran;
        ``weather`` and ``sources``, the weather that was read.
    """
    import zarr

    written = {}
    for name, block in values.items():
        array = zarr.open_array(
            unfinished.results / name, mode="r+", zarr_format=2, config={"write_empty_chunks": True}
        )
        array[first : first + len(block)] = block
        written[name] = checksums.checksum_of(
            unfinished.results / checksums.chunk(name, batch, block.ndim)
        )
    write_text(unfinished.note(batch), json.dumps({**report, "checksums": written}))


def finish(unfinished: UnfinishedStore) -> None:
    """Add what only the end knows, and give the store its name."""
    import xarray as xr
    import zarr

    results = unfinished.results
    for leftover in results.rglob("*.partial"):  # of a worker that died while it wrote
        leftover.unlink()
    notes = unfinished.notes()
    texts = {
        name: np.array([text for batch in sorted(notes) for text in notes[batch][name]], object)
        for name in TEXTS
    }
    kept = json.loads(unfinished.plan.read_text("utf-8"))
    last = xr.Dataset(
        {name: ("site", text, {"long_name": TEXTS[name]}) for name, text in texts.items()},
        attrs={
            "Conventions": "CF-1.10",
            **kept["told"],
            "identity": json.dumps(kept["identity"]),
            "complete": "yes",
            checksums.KEPT: checksums.FILE,
        },
    )
    write_text(results / ".zgroup", json.dumps({"zarr_format": 2}))
    last.to_zarr(results, mode="a", zarr_format=2, consolidated=False)
    zarr.consolidate_metadata(results, zarr_format=2)
    write_text(results / checksums.FILE, json.dumps(_checksums(results, notes)))
    path = unfinished.path
    if path.suffix.lower() == ".nc":
        made = unfinished.folder / "results.nc"
        _to_netcdf(results, made)
        made.replace(path)
    else:
        old = unfinished.folder / "old"
        if path.exists():
            path.rename(old)
        results.rename(path)
    shutil.rmtree(unfinished.folder)


def _checksums(results: Path, notes: dict[int, dict[str, Any]]) -> dict[str, Any]:
    """Return what a store keeps to be checked by: of its chunks what their batches noted."""
    about = checksums.read_json(results / next(iter(notes[0]["checksums"])) / ".zarray")
    chunks = {
        checksums.chunk(name, batch, len(about["shape"])): checksum
        for batch, note in sorted(notes.items())
        for name, checksum in note["checksums"].items()
    }
    others = [name for name in checksums.files_of(results) if name not in chunks]
    return {
        "files": {**checksums.checksums_of(results, others), **chunks},
        "batches": [
            {"grown": notes[batch]["grown"], "weather": notes[batch]["weather"]}
            for batch in sorted(notes)
        ],
    }


def _to_netcdf(results: Path, made: Path) -> None:
    """Copy a store into a netCDF file, in one order, a batch at a time."""
    import netCDF4
    import xarray as xr
    import zarr

    made.unlink(missing_ok=True)
    with xr.open_zarr(results, consolidated=True) as data:
        fields = [str(name) for name in data.data_vars]
        chunks = {name: [sizes[0] for sizes in data[name].chunks or ()] for name in fields}
        for variable in data.variables.values():
            variable.encoding.clear()
        coordinates = data.drop_vars(fields)
        coordinates.load().to_netcdf(made, engine="netcdf4")
        with netCDF4.Dataset(made, "a") as file:
            for name in fields:
                file.createVariable(
                    name,
                    "f8",
                    data[name].dims,
                    fill_value=np.nan,
                    chunksizes=chunks[name],
                    zlib=True,
                    complevel=1,
                    fletcher32=True,  # told when read, if it is not what was written
                )
                file[name].setncatts({**data[name].attrs, "coordinates": " ".join(OF_A_SITE)})
            for name in fields:
                array = zarr.open_array(results / name, mode="r", zarr_format=2)
                for rows in _runs(array.shape[0], array.chunks[0]):
                    file[name][rows] = array[rows]


def _runs(count: int, at_once: int) -> Iterator[slice]:
    for first in range(0, count, at_once):
        yield slice(first, min(first + at_once, count))
