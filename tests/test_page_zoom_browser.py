"""Every view at twice its size: nothing cut off, nothing covered, no scrolling to the side."""

from __future__ import annotations

from typing import Any

import pytest
from page_running import Running
from page_visit import browser  # noqa: F401  # fixtures

VIEWS = (
    "/?change=rain+november+%3D+11+inch&pin-sow=11-20",
    *("/falls", "/rain", "/two", "/season", "/map", "/soil", "/class"),
)
DRAWN = """() => ['settled', 'season'].some((part) => document.body.dataset[part] !== undefined)"""
# what goes beyond the screen, texts that are cut, and controls that another thing lies upon
FOUND = """() => {
  const found = [], shown = (e) => e.checkVisibility() && e.getBoundingClientRect().width > 1;
  const folded = 'details:not([open]) > *:not(summary)';
  const within = (e) => e.closest(`.unseen, .skip, svg, .scroll, ${folded}`);
  const told = (e) => `${e.tagName} ${e.id || e.textContent.slice(0, 30)}`;
  for (const e of document.querySelectorAll('body *')) {
    if (!shown(e) || within(e)) continue;
    const { left, right } = e.getBoundingClientRect();
    if (left < -1 || right > innerWidth + 1) found.push(`off the screen: ${told(e)}`);
    const cut = getComputedStyle(e).overflowX === 'hidden' && e.scrollWidth > e.clientWidth + 2;
    if (cut && !e.matches('.picture, .paper')) found.push(`cut off: ${told(e)}`);
  }
  const controls = ':is(main, header) :is(button, select, input, summary, a)';
  for (const e of document.querySelectorAll(controls)) {
    if (!shown(e) || within(e)) continue;
    e.scrollIntoView({ block: 'center', behavior: 'instant' });
    const { x, y, width, height } = e.getBoundingClientRect();
    const met = document.elementFromPoint(x + width / 2, y + height / 2);
    if (!met || !(e.contains(met) || met.contains(e))) found.push(`covered: ${told(e)}`);
  }
  return [document.documentElement.scrollWidth > innerWidth, found];
}"""


@pytest.mark.parametrize(
    ("wide", "high"), [(640, 400), pytest.param(720, 450, marks=pytest.mark.long)]
)
def test_no_view_is_cut_off_at_twice_its_size(
    browser: Any,
    server: Running,
    wide: int,
    high: int,
) -> None:
    """A window of 1280 by 800, or of 1440 by 900, at 200 percent."""
    visitor = browser.new_context(viewport={"width": wide, "height": high}, device_scale_factor=2)
    visitor.set_default_timeout(60_000)
    wrong, page = {}, visitor.new_page()
    for view in VIEWS:
        page.goto(f"{server.url}{view}")
        page.wait_for_function(DRAWN, polling=15)
        sideways, found = page.evaluate(FOUND)
        if sideways or found:
            wrong[view] = found or ["scrolls to the side"]
    visitor.close()
    assert not wrong
