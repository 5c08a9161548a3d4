"""Every chart that a command draws: units, titles from the numbers, letters, labels.

In US units by the lines of the gallery, docs/charts.md, which are run; in SI by shorter ones.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from html import unescape
from typing import Any

import pytest

import simulator
from docs.maker import gallery
from simulator.answers.compare import chart as sowing_chart
from simulator.show import charts

YEARS = "--years 1995:2004 --units si"
SHORT = {
    "season": "--year 2003 --nitrogen '30 lb/acre' --units si",
    "season-changed": "--year 2003 --change 'temperature oct..mar - 5 degF' --units si",
    "whatif": YEARS,
    "budget": YEARS,
    "timing": YEARS,
    "cover": f"{YEARS} --days 60",
    "why": "--years 1995:2003 --year 1999 --units si",
    "degreedays": YEARS,
}
BLOCKS = gallery.blocks()
DRAWN = [name.removesuffix(".svg") for name in BLOCKS]
IN_BOTH = [*SHORT, "sowing"]  # that show each kind of quantity there is
# what stands on an axis without a unit: names, dates, ratios
WITHOUT_UNIT = {
    "fall",
    "season",
    "sown",
    "nitrogen",
    "plan",
    "kind of year",
    "forecast made on",
    "C:N of shoots",
    "days since the end",
    "chance that it is reached, in 100",
    "years of the trial",
}
WITHOUT_AXES = {"design-field", "places"}  # a plan, not to scale; a map, its figures have ° N
OF_SYSTEM = {
    "us": ("lb/ac", "in", "°F", "°F d", "$/acre"),
    "si": ("kg/ha", "mm", "°C", "°C d", "$/ha", "cm"),
}


@pytest.fixture(scope="module", autouse=True)
def _files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    folder = tmp_path_factory.mktemp("trial")
    gallery.lay_files(folder)
    with pytest.MonkeyPatch.context() as patched:
        patched.chdir(folder)
        yield
    spec.cache_clear()


@cache
def spec(name: str, system: Any) -> dict[str, Any]:
    """Run what draws a chart; return it as it would go to the file."""
    if (name, system) == ("sowing", "si"):
        grid = simulator.compare(simulator.sample_weather(), years=range(1995, 2005))
        return sowing_chart.chart(grid, system).to_dict()
    kind, text = BLOCKS[f"{name}.svg"]
    if system == "si":
        text = f"fallsown {name.partition('-')[0]} {SHORT[name]} --chart {name}.svg"
    taken: list[Any] = []
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(charts, "write_chart", lambda chart, path, *, title: taken.append(chart))
        gallery.run(kind, text)
    return taken[0].to_dict()


def walk(node: Any) -> Iterator[dict[str, Any]]:
    """Return every object of a specification but the rows."""
    if isinstance(node, dict):
        yield node
        for key, value in node.items():
            if key != "datasets":
                yield from walk(value)
    elif isinstance(node, list):
        for value in node:
            yield from walk(value)


def axis_titles(made: dict[str, Any]) -> set[str]:
    found = set()
    for node in walk(made):
        for channel in ("x", "y"):
            encoding = node.get("encoding", {}).get(channel, {})
            title = encoding.get("title") if isinstance(encoding, dict) else None
            axis = encoding.get("axis") if isinstance(encoding, dict) else None
            title = title or (axis.get("title") if isinstance(axis, dict) else None)
            if title:
                found.add(title)
    return found


@pytest.mark.parametrize(
    ("name", "system"), [*((name, "us") for name in DRAWN), *((name, "si") for name in IN_BOTH)]
)
def test_axes_have_units_of_the_reader_and_none_of_the_other_system(name: str, system: str) -> None:
    titles = axis_titles(spec(name, system))
    assert bool(titles) == (name not in WITHOUT_AXES)
    other = OF_SYSTEM["si" if system == "us" else "us"]
    for title in titles:
        unit = re.search(r"\(([^()]*)\)$", title)
        assert unit or title in WITHOUT_UNIT, title
        if unit and title not in WITHOUT_UNIT:
            assert unit[1] in (*OF_SYSTEM[system], "%"), title
    text = json.dumps(spec(name, system)["title"], ensure_ascii=False)
    said = re.sub(r"(?<=[A-Z][a-z]{2} )\d+ in\b", "", text)  # "Apr 15 in the middle case"
    assert not any(re.search(rf"\d {re.escape(one)}\b", said) for one in other), said


@pytest.mark.parametrize("name", DRAWN)
def test_invented_data_are_labelled(name: str) -> None:
    assert "nvented" in " ".join(spec(name, "us")["title"]["subtitle"])


@pytest.mark.parametrize("name", DRAWN)
def test_titles_say_a_finding_with_its_number(name: str) -> None:
    title = " ".join(spec(name, "us")["title"]["text"])
    assert not title.endswith("?")
    assert re.search(r"\d", title)


@pytest.mark.parametrize(
    "name", ["season", "season-changed", "whatif", "sowing", "timing", "why", "budget"]
)
def test_figures_in_titles_are_the_numbers(name: str) -> None:
    us, si = (" ".join(spec(name, system)["title"]["text"]) for system in ("us", "si"))
    assert us != si


@pytest.mark.analytic("16 px of 1/96 inch, x-height 0.519 em: 2.197 mm at 1 m is 7.55 arc minutes")
@pytest.mark.parametrize("name", DRAWN)
def test_letters_can_be_read_at_a_metre(name: str) -> None:
    sizes = [
        value
        for node in walk(spec(name, "us"))
        for key, value in node.items()
        if key.endswith("ontSize") and isinstance(value, int | float)
    ]
    smallest = min(sizes)
    minutes = smallest / 96 * 25.4 * charts.X_HEIGHT / 1000 * 180 * 60 / 3.141592653589793
    assert smallest == charts.TEXT
    assert minutes == pytest.approx(7.55, abs=0.005)
    assert minutes >= 1.5 * 5  # an eye that sees 1.0 tells letters of 5 minutes apart


@pytest.mark.parametrize("name", DRAWN)
def test_no_row_has_a_number_that_a_page_cannot_read(name: str) -> None:
    assert "NaN" not in json.dumps(spec(name, "us"))
    json.dumps(spec(name, "us"), allow_nan=False)


@pytest.mark.parametrize("name", DRAWN)
def test_the_gallery_shows_this_chart(name: str) -> None:
    picture = (gallery.PICTURES / f"{name}.svg").read_text(encoding="utf-8")
    kept = unescape(re.findall(r'aria-label="([^"]*)"', picture)[0])

    def words(text: str) -> str:  # figures may move with the defaults
        return re.sub(r"[\d,.]+", "", text)

    assert words(kept) == words(spec(name, "us")["description"]), "python -m docs.maker.gallery"


@pytest.mark.parametrize("name", ["whatif", "timing", "cover", "outlook", "risk"])
def test_charts_stay_small_enough_for_a_page(name: str) -> None:
    assert len(json.dumps(spec(name, "us"))) < 600_000
