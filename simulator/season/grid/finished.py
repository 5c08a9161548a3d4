"""A store that is whole: opened, held against its checksums, and taken back where it is damaged."""

from __future__ import annotations

import json
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.problems import Parameter, command_line, fault, shown_path
from simulator.season.compiling import Announce, say
from simulator.season.day.record import RECORD
from simulator.season.grid import checksums
from simulator.season.grid.unfinished import UNFINISHED, UnfinishedStore, write_text

if TYPE_CHECKING:
    import xarray as xr

OF_A_SITE = ("latitude", "longitude", "soil", "left_out", "notes")  # coordinates along the sites
MEANINGS = {name: (unit, meaning) for name, unit, meaning in RECORD}
TEXTS = {
    "left_out": "why a place, or some of its seasons, could not be run",
    "notes": "what was filled in the record, and what else deserves a look",
}


Identity = dict[str, Any]


def identity_of(path: Path) -> Identity | None:
    """Return what decided the numbers of a finished store; None for any other file."""
    try:
        if path.is_dir():
            text = json.loads((path / ".zattrs").read_text("utf-8"))["identity"]
        else:
            import netCDF4

            with netCDF4.Dataset(path) as opened:
                text = opened.getncattr("identity")
        found: Identity = json.loads(text)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return found


def damage_of(path: Path) -> list[str] | None:
    """Return the files of a store that are missing or not as written; None where nobody can tell.

    Of a netCDF file the fields whose values cannot be read.
    """
    if not path.is_dir():
        return _damaged_fields(path)
    attributes = checksums.read_json(path / ".zattrs") or {}
    if checksums.KEPT not in attributes:
        return None
    kept = checksums.read_json(path / checksums.FILE)
    expected = checksums.texts_by_name(kept.get("files")) if isinstance(kept, dict) else None
    return [checksums.FILE] if expected is None else checksums.damaged(path, expected)


def _damaged_fields(path: Path) -> list[str] | None:
    import netCDF4

    damaged, checked = [], False
    with netCDF4.Dataset(path) as opened:
        for field in (name for name in MEANINGS if name in opened.variables):
            variable = opened[field]
            checked |= bool((variable.filters() or {}).get("fletcher32"))
            step = variable.chunking()[0] if isinstance(variable.chunking(), list) else 1
            try:
                for first in range(0, variable.shape[0], step):
                    variable[first : first + step]
            except (RuntimeError, OSError):
                damaged.append(field)
    return damaged if checked or damaged else None


def _refuse_damaged(path: Path, announce: Announce) -> None:
    """Refuse a store that is damaged; say where that cannot be known.

    Raises
    ------
    InputError
    """
    damaged = damage_of(path)
    if damaged is None:
        announce(
            f"{shown_path(path.name)} has no checksums: an older version wrote it, and whether "
            "its numbers are as they were written cannot be checked."
        )
    elif damaged:
        raise fault(
            shown_path(str(path)),
            f"It is damaged: {checksums.some_of(damaged)}.",
            "Give the command that wrote it again: it runs the places anew that these hold.",
        )


def take_back(
    path: Path, unfinished: UnfinishedStore, plan: dict[str, Any], damaged: Sequence[str]
) -> None:
    """Make of a damaged store one that is not finished, with the batches that are as written.

    Parameters
    ----------
    path : Path
        Of a zarr store; a netCDF file is written again as a whole.
    unfinished : UnfinishedStore
        Not there.
    plan : dict
        As it is written at the beginning.
    damaged : sequence of str
        What `damage_of` found.
    """
    (unfinished.folder / "done").mkdir(parents=True)
    unfinished.weather.mkdir()
    notes = _notes_of(path, set(damaged)) if path.is_dir() else None
    if notes is not None:
        arrays, batches = notes
        for batch, note in batches.items():
            write_text(unfinished.note(batch), json.dumps(note))
        write_text(unfinished.array_checksums, json.dumps(arrays))
        path.rename(unfinished.results)
        for name in (".zgroup", ".zmetadata", ".zattrs", checksums.FILE):
            (unfinished.results / name).unlink(missing_ok=True)
        for name in TEXTS:
            shutil.rmtree(unfinished.results / name)
    write_text(unfinished.plan, json.dumps(plan, indent=1))


def _notes_of(
    path: Path, damaged: set[str]
) -> tuple[dict[str, str], dict[int, dict[str, Any]]] | None:
    """Return the checksums of a store's arrays and the notes of its batches; None if too damaged.

    The files that their weather came from are not among them, so that it is read and compared.
    """
    import zarr

    kept = checksums.read_json(path / checksums.FILE)
    expected = checksums.texts_by_name(kept.get("files")) if isinstance(kept, dict) else None
    fields = [name for name in MEANINGS if f"{name}/.zarray" in (expected or {})]
    about = checksums.read_json(path / fields[0] / ".zarray") if fields else None
    if not expected or not about or not isinstance(kept.get("batches"), list):
        return None
    places, dimensions = about["chunks"][0], len(about["shape"])
    chunks = [
        {name: checksums.chunk(name, batch, dimensions) for name in fields}
        for batch in range(len(kept["batches"]))
    ]
    written = {name for mine in chunks for name in mine.values()}
    if damaged - written:
        return None
    texts: dict[str, Any] = {
        name: zarr.open_array(path / name, mode="r", zarr_format=2)[:] for name in TEXTS
    }
    batches = {}
    for batch, mine in enumerate(chunks):
        rows = slice(batch * places, (batch + 1) * places)
        if not damaged & set(mine.values()):
            batches[batch] = {
                **kept["batches"][batch],
                **{name: [str(one) for one in found[rows]] for name, found in texts.items()},
                "checksums": {name: expected[chunk] for name, chunk in mine.items()},
                "sources": {},
            }
    arrays = {
        name: checksum
        for name, checksum in expected.items()
        if name not in written and "/" in name and name.split("/")[0] not in TEXTS
    }
    return arrays, batches


def open_grid(
    path: Path | str, *, verify: bool = True, announce: Announce | None = None
) -> xr.Dataset:
    """Open the results of a grid; values are read when they are used.

    Parameters
    ----------
    path : path
        A store or file that `run_grid` wrote.
    verify : bool
        Whether every file of a store is held against its checksum first, which reads them all: a
        second for some gigabytes. A netCDF file checks what is read of it, as it is read.
    announce : callable, optional
        Told where there is nothing to check by; prints to standard error without it.

    Returns
    -------
    Dataset(site, year, sow, seeding, nitrogen, nitrogen_timing, end[, case])

    Raises
    ------
    InputError
        Not there, not whole yet, not from a grid, or damaged.
    """
    import xarray as xr

    path = Path(path)
    unfinished = UnfinishedStore(path if path.suffix != UNFINISHED else path.with_suffix(""))
    if unfinished.folder.exists() and (path == unfinished.folder or not path.exists()):
        raise fault(
            shown_path(str(unfinished.path)),
            "It is not whole: its run was interrupted.",
            "Give the same command again; it goes on where it stopped.",
        )
    if identity_of(path) is None:
        written_by = command_line(
            "compare", Parameter("weather", "FOLDER"), Parameter("out", "FILE.zarr")
        )
        raise fault(
            shown_path(str(path)),
            "It is no grid that fallsown wrote.",
            f"Write one with '{written_by}'.",
        )
    if verify:
        _refuse_damaged(path, announce or say)
    opened: xr.Dataset
    if path.is_dir():
        opened = xr.open_zarr(path, consolidated=True)
    else:
        opened = xr.open_dataset(path, engine="netcdf4", chunks={})
    for name in OF_A_SITE:
        opened[name].load()
    return opened[[name for name in MEANINGS if name in opened.data_vars]]
