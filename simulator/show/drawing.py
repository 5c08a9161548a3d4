"""Where a chart's definition becomes a picture: in this process, or where a caller has it done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

Drawer = Callable[[str, dict[str, Any], float], bytes]


def draw_here(kind: str, spec: dict[str, Any], dots: float) -> bytes:
    """Draw in this process, which ends with what draws.

    Parameters
    ----------
    kind : {"svg", "png", "pdf"}
    spec : dict
        As Vega-Lite has it, its texts printable.
    dots : float
        Of a PNG, for each point of the chart.
    """
    import vl_convert

    if kind == "svg":
        return vl_convert.vegalite_to_svg(spec).encode()
    if kind == "pdf":
        return bytes(vl_convert.vegalite_to_pdf(spec))
    return bytes(vl_convert.vegalite_to_png(spec, scale=dots))


_DRAWER: ContextVar[Drawer] = ContextVar("drawer", default=draw_here)


def draw(kind: str, spec: dict[str, Any], dots: float = 1.0) -> bytes:
    """Draw by `draw_here`, or by what `drawn_by` names."""
    return _DRAWER.get()(kind, spec, dots)


@contextmanager
def drawn_by(drawer: Drawer) -> Iterator[None]:
    """Have all that is drawn inside, by this thread, drawn by another."""
    before = _DRAWER.set(drawer)
    try:
        yield
    finally:
        _DRAWER.reset(before)
