"""What of a grid must run again: batches that are not as written, or read other weather."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from simulator.problems import Parameter, Text, fault, shown_path
from simulator.season.compiling import Announce
from simulator.season.grid import checksums
from simulator.season.grid.batch import Batch, GridSetup, sources_of, weather_of
from simulator.season.grid.finished import Identity
from simulator.season.grid.identity import weather_digest
from simulator.season.grid.unfinished import UnfinishedStore
from simulator.season.grid.workers import WorkerPool
from simulator.weather.places import Place

_DAMAGED_NOTE = "the note of what was written is damaged"
ROUNDS = 3  # in which batches that are not sound run again


def grow_until_sound(
    pool: WorkerPool,
    setup: GridSetup,
    batches: Sequence[Batch],
    grow: Callable[[Sequence[Batch]], None],
    check_weather: Callable[[], None],
    announce: Announce,
) -> None:
    """Grow what is not written, check all that is, and run again what is not sound.

    Before each look the weather is checked: nothing is run again in other weather.

    Raises
    ------
    InputError
        A disk that does not keep what is written.
    """
    for _ in range(ROUNDS):
        check_weather()
        unsound = _unsound(pool, setup, batches)
        for why in sorted({reason for reason in unsound.values() if reason}):
            again = [batch for batch in batches if unsound.get(batch.number) == why]
            announce(f"Run again, since {why}: {_named(again)}.")
        if not unsound:
            return
        for number in unsound:
            setup.unfinished.note(number).unlink(missing_ok=True)
        grow([batch for batch in batches if batch.number in unsound])
    check_weather()
    if unsound := _unsound(pool, setup, batches):
        again = [batch for batch in batches if batch.number in unsound]
        raise fault(
            Parameter("out"),
            f"What is written does not stay as it was written: {_named(again)}.",
            "Look after the disk, or name another.",
        )


def _named(batches: Sequence[Batch]) -> str:
    return checksums.some_of([place.site for batch in batches for place in batch.places])


def _unsound(pool: WorkerPool, setup: GridSetup, batches: Sequence[Batch]) -> dict[int, str]:
    """Return the batches that must run, each with the reason; none for those never written."""
    unfinished = setup.unfinished
    notes = unfinished.notes()
    found = {
        batch.number: "" for batch in batches if not _fits(notes.get(batch.number), batch, setup)
    }
    for number in found:
        if unfinished.note(number).exists():
            found[number] = _DAMAGED_NOTE
    dimensions = len(setup.layout.shape) + 2 + bool(setup.changes)
    chunks = {
        checksums.chunk(name, number, dimensions): (number, checksum)
        for number, note in notes.items()
        if number not in found
        for name, checksum in note["checksums"].items()
    }
    expected = {name: checksum for name, (_, checksum) in chunks.items()}
    for name in checksums.damaged(unfinished.results, expected):
        found[chunks[name][0]] = "what was written is damaged"
    suspects = [
        batch
        for batch in batches
        if batch.number not in found
        and _sources_now(unfinished, batch) != notes[batch.number]["sources"]
    ]

    def compare(read: tuple[int, str]) -> None:
        number, checksum = read
        if checksum != notes[number]["weather"]:
            found[number] = "other weather was read"

    pool.run(((weather_of, (unfinished, batch)) for batch in suspects), compare)
    return found


def _fits(note: Mapping[str, Any] | None, batch: Batch, setup: GridSetup) -> bool:
    """Whether there is a note, and it is of this batch."""
    return (
        note is not None
        and set(note["checksums"]) == set(setup.fields)
        and len(note["left_out"]) == len(note["notes"]) == len(batch.places)
    )


def _sources_now(unfinished: UnfinishedStore, batch: Batch) -> dict[str, str]:
    return {source: checksums.signature(source) for source in sources_of(unfinished, batch)}


def refuse_changed_weather(
    setup: GridSetup,
    batches: Sequence[Batch],
    places: Sequence[Place],
    decided: Identity,
    before: Mapping[str, str],
) -> None:
    """Refuse to finish a grid whose weather is no longer that which it began with.

    Parameters
    ----------
    setup : GridSetup
    batches : sequence of Batch
    places : sequence of Place
    decided : dict
        What decides the numbers, the weather among it.
    before : mapping of str
        Signature of each source at the beginning.

    Raises
    ------
    InputError
        It names the files, and the places that were grown from what they are now.
    """
    changed = [name for name, signature in before.items() if checksums.signature(name) != signature]
    if not changed or weather_digest(places) == decided["the weather"]:
        return
    notes = setup.unfinished.notes()
    newer = [
        batch
        for batch in batches
        if any(
            signature != before.get(name, signature)
            for name, signature in notes[batch.number]["sources"].items()
        )
    ]
    files = checksums.some_of([Path(name).name for name in changed])
    grown = f" Grown from what it is now: {_named(newer)}." if newer else ""
    raise fault(
        shown_path(str(setup.unfinished.path)),
        f"The weather changed while the grid ran: {files}.{grown}",
        Text(
            "Put back what it was and give the same command again, which runs these anew; or add ",
            Parameter("overwrite"),
            " to run all of it in the weather as it is now.",
        ),
    )
