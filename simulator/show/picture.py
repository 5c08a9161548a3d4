"""A chart as a notebook shows it, without a network."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from simulator.show import charts
from simulator.show.output import check_destination

DOTS = 1.5  # for each of its points: letters stay sharp where a screen has more dots than one
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


class Picture:
    """A chart that a notebook shows as it stands: drawn here, not by a script from the network.

    Parameters
    ----------
    chart : Chart
        An Altair chart with its title, from `charts.finish`.

    Attributes
    ----------
    chart : Chart
        The same, to be changed or put together with others.
    """

    def __init__(self, chart: charts.Chart) -> None:
        self.chart = chart

    @property
    def title(self) -> str:
        """What the chart shows, as a sentence."""
        return " ".join(self.chart.title.text)

    def save(self, path: str | Path) -> None:
        """Write the chart to FILE.svg, .png, .pdf or .html.

        Raises
        ------
        InputError
            Another suffix, a folder that is not there, or where the disk refuses.
        """
        target = Path(path)
        check_destination(target, option="path", suffixes=charts.SUFFIXES)
        charts.write_chart(self.chart, target, title=self.title)

    def to_dict(self) -> dict[str, Any]:
        """Return the chart as Vega-Lite has it."""
        found: dict[str, Any] = self.chart.to_dict()
        return found

    def __repr__(self) -> str:
        return f"<chart: {self.title}>"

    def _repr_mimebundle_(
        self, include: Iterable[str] | None = None, exclude: Iterable[str] | None = None
    ) -> tuple[dict[str, str | bytes], dict[str, dict[str, int | str]]]:
        """Return one picture, a PNG, and its size and words: SVG only to who asks for it by name.

        A notebook keeps all that is returned, whether it shows it or not; a PNG is what each
        program shows, exports and prints.
        """
        makers: dict[str, Callable[[], str | bytes]] = {
            "image/svg+xml": lambda: charts.svg(self.chart),
            "image/png": lambda: packed(charts.png(self.chart, dots=DOTS)),
            "text/plain": lambda: repr(self),
        }
        asked = ("image/png", "text/plain") if include is None else include
        wanted = set(asked) - set(exclude or ())
        made = {kind: make() for kind, make in makers.items() if kind in wanted}
        drawn = made.get("image/png")
        if not isinstance(drawn, bytes):
            return made, {}
        wide, high = (round(dots / DOTS) for dots in struct.unpack(">II", drawn[16:24]))
        return made, {"image/png": {"width": wide, "height": high, "alt": self.title}}


def packed(png: bytes) -> bytes:
    """Return the same PNG, dot for dot, its dots packed as small as they go.

    What draws it packs in haste: to a third or a quarter of its bytes it can be packed again.
    """
    kept: list[bytes] = []
    dots = b""
    at = len(_SIGNATURE)
    while at < len(png):
        (size,) = struct.unpack(">I", png[at : at + 4])
        whole = png[at : at + size + 12]  # its length, its name and its check sum with it
        name = whole[4:8]
        if name == b"IDAT":
            dots += whole[8:-4]
        else:
            if name == b"IEND":
                body = b"IDAT" + zlib.compress(zlib.decompress(dots), 9)
                kept.append(struct.pack(">I", len(body) - 4) + body)
                kept.append(struct.pack(">I", zlib.crc32(body)))
            kept.append(whole)
        at += len(whole)
    return _SIGNATURE + b"".join(kept)
