"""A quick slice of the mutated inputs; ``python -m tests.fuzz`` tries thousands."""

from __future__ import annotations

from pathlib import Path

import pytest
import xarray as xr
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.problems import InputError, printable
from simulator.weather.files.reading import to_record, understand
from simulator.weather.files.record_check import checked
from tests.fuzz import running
from tests.fuzz.mutations import ODD
from tests.fuzz.running import FAULTS, SEEDS, Outcome, laid, made, run
from tests.fuzz.seeds import DAYS, dataset
from tests.fuzz.targets import read

INPUTS = 240


@pytest.mark.parametrize(
    ("reader", "which"), [(reader, i) for reader, made in SEEDS.items() for i in range(len(made))]
)
def test_honest_files_are_read(tmp_path: Path, reader: str, which: int) -> None:
    assert read(reader, laid(SEEDS[reader][which](), tmp_path))


def test_mutated_files_are_refused_or_understood() -> None:
    outcomes = list(run(INPUTS))
    assert len(outcomes) == INPUTS
    faults = [outcome for outcome in outcomes if outcome.kind in FAULTS]
    assert not faults, faults[0].said
    kinds = {outcome.kind for outcome in outcomes}
    assert kinds == {"refused", "accepted"}


def test_an_input_is_made_again_from_its_seed() -> None:
    for reader in ("table", "spreadsheet", "folder"):
        assert made(reader, 7) == made(reader, 7)
        assert made(reader, 7) != made(reader, 8)


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        ("raise KeyError('ours')", "traceback"),
        ("os.abort()", "abort"),
        ("time.sleep(60)", "slow"),
        ("bytearray(1200 * 2**20)", "large"),
    ],
)
def test_a_fault_is_met(body: str, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that dies, hangs or swells must show, or the slice could not fail."""
    monkeypatch.setattr(running, "HUNG", 5.0)
    monkeypatch.setenv(running.FAULT, body)
    (outcome,) = run(1)
    assert isinstance(outcome, Outcome)
    assert outcome.kind == kind, outcome.said


cells = st.sampled_from([*ODD, *map(str, range(-5, 40)), "2005-10-01", "1.5"]) | st.text(max_size=8)
headers = st.sampled_from(
    [
        "date",
        "tmax (degC)",
        "tmin (degC)",
        "rain (mm)",
        "latitude",
        "station",
        "radiation (MJ/m2/d)",
        "year",
        "month",
        "day",
        "",
        "x",
    ]
)


@settings(
    max_examples=80,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    head=st.lists(headers, min_size=1, max_size=6),
    rows=st.lists(st.lists(cells, max_size=7), max_size=6),
    between=st.sampled_from([",", ";", "\t"]),
    above=st.lists(
        st.sampled_from(["# site: ", "# latitude: ", "# lat: "]).flatmap(
            lambda key: cells.map(lambda cell: key + cell)
        ),
        max_size=3,
    ),
)
def test_tables_of_any_cells(
    tmp_path: Path, head: list[str], rows: list[list[str]], between: str, above: list[str]
) -> None:
    dated = [[str(DAYS[i]), *row] for i, row in enumerate(rows)]
    path = tmp_path / "w.csv"
    text = "\n".join([*above, between.join(["date", *head]), *map(between.join, dated)])
    path.write_text(text, encoding="utf-8", errors="surrogatepass", newline="")
    try:
        found = understand(path, latitude=33.0, units_of_file="si")
    except InputError as error:
        assert printable(error.text()) == error.text()
        return
    assert all(printable(str(one)) == str(one) for one in found.daily.problems)
    if not found.daily.problems:
        record = to_record(found)
        assert printable(record.attrs["site"]) == record.attrs["site"]
        checked(record)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    attributes=st.dictionaries(
        st.sampled_from(["site", "source", "notes", "latitude", "changes", "invented"]),
        st.text(max_size=12) | st.floats() | st.integers() | st.none(),
        max_size=4,
    )
)
def test_records_of_any_attributes(attributes: dict[str, object]) -> None:
    record: xr.Dataset = dataset().assign_attrs(attributes)
    try:
        good = checked(record)
    except InputError as error:
        assert printable(error.text()) == error.text()
        return
    for value in good.attrs.values():
        assert not isinstance(value, str) or printable(value) == value


def test_a_table_of_radiation_alone_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text("date,radiation (MJ/m2/d)\n2005-10-01,\n2005-10-02,\n")
    understood = understand(path, latitude=33.0, units_of_file="si")
    assert understood.daily.problems
