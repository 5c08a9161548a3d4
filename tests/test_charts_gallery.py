"""The gallery in docs/charts.md: its pictures are of the charts that its lines draw."""

from __future__ import annotations

import re

import pytest

from docs.maker import gallery
from simulator.commands import _COMMANDS

BLOCKS = gallery.blocks()
TEXT = gallery.PAGE.read_text(encoding="utf-8")
OF_SVG = {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}  # names, not requests


def test_every_picture_is_shown_and_small() -> None:
    assert {path.name for path in gallery.PICTURES.glob("*.svg")} >= set(BLOCKS)
    for name in BLOCKS:
        assert f"](pictures/{name})" in TEXT
        assert (gallery.PICTURES / name).stat().st_size < 130_000


def test_every_command_that_draws_is_in_the_gallery() -> None:
    without = {"sheet", "field", "check", "samples", "page", "generate", "compare"}
    shown = {text.split()[1] for kind, text in BLOCKS.values() if kind == "console"}
    assert shown | without == set(_COMMANDS) | without


@pytest.mark.parametrize("name", BLOCKS)
def test_pictures_ask_nothing_of_the_network(name: str) -> None:
    text = (gallery.PICTURES / name).read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\"' ]+", text)) <= OF_SVG
    assert text.startswith('<svg role="img" aria-label="')
