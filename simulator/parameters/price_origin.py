"""Whose prices are: a copy of the packaged ones keeps its label until the user writes another."""

from __future__ import annotations

from collections.abc import Collection

from simulator.parameters.prices import Prices, default_prices


def packaged_items(
    prices: Prices, items: Collection[str], *, cereal: str, fertilizer: str
) -> list[str]:
    """Return which items of a budget cost as packaged, number for number.

    Parameters
    ----------
    prices : Prices
    items : collection of str
        Their names.
    cereal, fertilizer : str
        Whose seed and nitrogen are bought.
    """
    usual = default_prices()
    bought = {"seed": cereal, "nitrogen": fertilizer}

    def same(item: str) -> bool:
        key = bought.get(item, item)
        for section in (item,) if item in bought else ("work", "materials"):
            mine, packaged = getattr(prices, section), getattr(usual, section)
            if key in mine:
                return bool(mine[key].by(packaged[key].unit) == packaged[key].amount)
        return False  # an item of the user's own

    return [item for item in items if same(item)]


def whose_prices(prices: Prices, items: Collection[str], *, cereal: str, fertilizer: str) -> str:
    """Say whose the prices of a budget's items are, and of what day.

    Parameters
    ----------
    prices, items, cereal, fertilizer
        As `packaged_items` takes them.

    Returns
    -------
    str
        The file's own label and date. Where the label is still that of the packaged prices, the
        items that the user put in are named, and those that are as packaged.
    """
    usual = default_prices()
    dated = f"{prices.label}, of {prices.date}"
    if prices.label != usual.label:
        return dated
    kept = packaged_items(prices, items, cereal=cereal, fertilizer=fertilizer)
    own = [item for item in items if item not in kept]
    if not own:
        return dated
    day = f", of {prices.date}" if prices.date != usual.date else ""
    text = f"{_joined(own)} as you put them in{day}"
    if not kept:
        return text
    return f"{text}; still {usual.label}, of {usual.date}: {_joined(kept)}"


def _joined(items: list[str]) -> str:
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)
