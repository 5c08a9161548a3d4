"""Use in a notebook: datasets and charts show, without a network; long work has a bar."""

from __future__ import annotations

import io
import subprocess
import sys
from html import escape
from pathlib import Path
from typing import Any

import pytest

import simulator
from simulator import progress_bar
from simulator.show import charts
from simulator.show.picture import Picture, packed

LINES = """
import simulator
record = simulator.sample_weather()
days = simulator.run_season(record, simulator.Plan(nitrogen="30 lb/acre"), year=2015)
simulator.chart(days, weather=record)
simulator.chart(simulator.compare(record, years=[2003, 2004]))
days
"""


@pytest.fixture(scope="module")
def shell() -> Any:
    from IPython.core.interactiveshell import InteractiveShell

    made = InteractiveShell.instance()
    yield made
    InteractiveShell.clear_instance()


@pytest.fixture(scope="module")
def shown(shell: Any) -> list[dict[str, Any]]:
    """Run the lines one by one, as a notebook does; return what it would show of each."""
    found = []
    for line in LINES.strip().splitlines():
        if line.startswith("import") or " = " in line.split("(")[0]:
            shell.run_cell(line, silent=True).raise_error()
        else:
            found.append(shell.display_formatter.format(shell.ev(line))[0])
    return found


def test_a_chart_is_kept_as_one_picture_that_every_notebook_shows(
    shown: list[dict[str, Any]],
) -> None:
    for bundle in shown[:2]:
        assert set(bundle) == {"image/png", "text/plain"}
        assert bundle["image/png"].startswith(b"\x89PNG")
        assert len(bundle["image/png"]) < 250_000
    assert shown[0]["text/plain"].startswith("<chart: Rye sown Oct 20, 2015 makes ")


def test_a_picture_says_how_large_it_is_and_what_it_shows() -> None:
    picture = simulator.chart(simulator.compare(simulator.sample_weather(), years=[2003, 2004]))
    kept, said = picture._repr_mimebundle_(include=["image/png"])
    drawn = charts.png(picture.chart, dots=1.0)
    high = int.from_bytes(drawn[20:24], "big")
    assert abs(said["image/png"]["height"] - high) <= 1 and set(kept) == set(said)
    assert said["image/png"]["alt"] == picture.title
    assert set(picture._repr_mimebundle_(include=["image/svg+xml"])[0]) == {"image/svg+xml"}


@pytest.mark.other_program("Pillow, as reportlab brings it")
def test_a_picture_is_packed_again_dot_for_dot() -> None:
    from PIL import Image

    picture = simulator.chart(simulator.compare(simulator.sample_weather(), years=[2003, 2004]))
    drawn = charts.png(picture.chart, dots=1.0)
    small = packed(drawn)
    assert len(small) < 0.5 * len(drawn)
    one, other = (Image.open(io.BytesIO(png)) for png in (drawn, small))
    assert one.size == other.size and one.tobytes() == other.tobytes()


def test_an_answer_is_kept_as_a_finding_and_a_small_table() -> None:
    dates = [f"11-{day:02d}" for day in range(1, 17)]
    reply = simulator.whatif(
        simulator.sample_weather(), sow=dates, nitrogen="0,30 lb/acre", years="2001"
    )
    html = reply._repr_html_()
    assert html.startswith(f"<p><strong>{escape(reply.headline)}</strong></p>")
    assert html.count("<table>") == 1 and html.count("<tr>") == 1 + 10
    assert "... and 22 more rows: .text has them all" in html
    assert len(html.partition("<details>")[0]) < 3_000


def test_datasets_print_in_few_short_lines(shown: list[dict[str, Any]]) -> None:
    text = shown[2]["text/plain"]
    assert "biomass_kg_ha" in text and "soil" in text
    lines = text.splitlines()
    assert len(lines) < 40
    assert max(map(len, lines)) <= 80  # the balances, JSON, do not swamp it


def test_datasets_name_units_and_meanings_where_they_are_opened(
    shown: list[dict[str, Any]],
) -> None:
    html = shown[2]["text/html"]
    assert "dry matter of living shoots" in html and "kg/ha" in html


def test_an_altair_renderer_of_the_readers_own_is_left_alone() -> None:
    import altair as alt

    before = alt.renderers.active
    days = simulator.run_season(simulator.sample_weather(), simulator.Plan(), year=2015)
    simulator.chart(days)._repr_mimebundle_()
    assert alt.renderers.active == before


def test_a_bundle_gives_what_is_asked_for() -> None:
    days = simulator.run_season(simulator.sample_weather(), simulator.Plan(), year=2015)
    picture = simulator.chart(days, units="si")
    assert picture._repr_mimebundle_(include=["text/plain"]) == ({"text/plain": repr(picture)}, {})
    assert "image/png" not in picture._repr_mimebundle_(exclude=["image/png"])[0]
    assert "kg/ha" in picture.title and "lb/ac" not in str(picture.to_dict())


@pytest.mark.parametrize("ask", ["timing", "cover", "why", "risk", "degree days"])
def test_answers_are_drawn_by_what_they_are(ask: str) -> None:
    record = simulator.sample_weather()
    assert isinstance(simulator.chart(answer(ask, record)), Picture)


def answer(ask: str, record: Any) -> Any:
    from simulator.answers.cover.calculate import cover
    from simulator.answers.degree_days import calculate as degree_days
    from simulator.answers.risk import calculate as risk
    from simulator.answers.timing import calculate as termination
    from simulator.answers.why.calculate import why
    from simulator.parameters.soils import soil
    from simulator.season.residue_decay import follow

    years = range(1995, 2001)
    if ask == "degree days":
        return degree_days.degree_days(record, bases=[0.0], years=years)
    if ask == "why":
        return why(
            record,
            year=1999,
            years=years,
            sow="10-20",
            seeding="90 lb/acre",
            nitrogen="60 lb/acre",
            nitrogen_timing="sowing",
            end="04-15",
        )
    plans = {
        "sow": ["10-20"],
        "seeding": ["90 lb/acre"],
        "nitrogen": ["30 lb/acre"],
        "nitrogen_timing": ["sowing"],
        "end": ["03-15", "04-15"],
    }
    if ask == "risk":
        return [
            risk.risk_at(
                record,
                plans,
                {},
                target=4000.0,
                often=0.8,
                years=years,
                kinds=None,
                weights=None,
                announce=print,
            )
        ]
    grid = simulator.compare(record, **plans, years=years)
    stands = grid.isel(seeding=0, nitrogen=0, nitrogen_timing=0)
    stands.attrs.update(
        sow="10-20", seeding_kg_ha=100.0, nitrogen_kg_ha=34.0, nitrogen_timing="sowing"
    )
    if ask == "timing":
        return termination.timing(stands.isel(sow=0), soil("sandy loam"))
    last = stands.isel(end=-1)
    return cover(last, follow(record, last, residue=["rolled"], days=30))


def test_what_has_no_chart_is_refused_with_what_to_do() -> None:
    with pytest.raises(
        simulator.InputError, match=r"no chart of this Dataset\. Give a season from"
    ):
        simulator.chart(simulator.sample_weather())
    with pytest.raises(simulator.InputError, match="no chart of this list"):
        simulator.chart([])


def test_a_picture_is_saved_as_its_suffix_says(tmp_path: Path) -> None:
    grid = simulator.compare(simulator.sample_weather(), years=[2003], sow="10-20")
    picture = simulator.chart(grid)
    picture.save(tmp_path / "one.svg")
    assert (tmp_path / "one.svg").read_text(encoding="utf-8").startswith("<svg")
    with pytest.raises(simulator.InputError, match=r"path: 'one\.gif' does not end in"):
        picture.save(tmp_path / "one.gif")
    assert [path.name for path in tmp_path.iterdir()] == ["one.svg"]


def test_a_bar_stays_away_from_pipes(capsys: pytest.CaptureFixture[str]) -> None:
    with simulator.progress(2) as tick:
        tick(1)
        tick(1)
    assert capsys.readouterr() == ("", "")


def test_a_bar_is_shown_in_a_notebook(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], recwarn: Any
) -> None:
    monkeypatch.setattr(progress_bar, "in_notebook", lambda: True)
    with simulator.progress(2) as tick:
        tick(2)
    out, err = capsys.readouterr()
    assert "100%|" in err  # what stays says that all is done
    assert not out  # where a command's answer goes
    assert not recwarn.list  # of widgets that are not installed


def test_importing_the_package_stays_cheap() -> None:
    heavy = ("altair", "IPython", "tqdm")
    code = f"import sys, simulator; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
