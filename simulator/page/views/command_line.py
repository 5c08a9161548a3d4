"""The command line that asks the same as a view, for the reader to copy."""

from __future__ import annotations

import shlex
from pathlib import Path

from simulator.page.question import Question
from simulator.page.records import PlaceWeather
from simulator.page.sown import PARTS
from simulator.page.views.given_file import GivenFile
from simulator.weather.samples import samples


def command(
    asked: Question,
    place: PlaceWeather,
    given: GivenFile | None,
    own: dict[str, str],
    measured: list[str],
) -> str:
    """Return the command line that asks the same."""
    words = ["fallsown", "outlook", "--weather"]
    if asked.place in samples():
        words.append(asked.place)
    else:
        ours = given is not None and given.find(None, asked.place) is not None
        path: Path | str = given.path if ours and given is not None else asked.file or "FILE"
        words += [str(path), "--latitude", f"{float(place.about['latitude']):g}"]
    for name in PARTS:
        if text := getattr(asked.plan, name):
            words += [f"--{name.replace('_', '-')}", text]
    for name, text in own.items():
        if name in ("year", "today") and text:
            words += [f"--{name}", text]
    for text in measured:
        words += ["--measured", text]
    return shlex.join([*words, "--target", asked.target_text, "--units", asked.system])
