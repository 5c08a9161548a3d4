"""Renew what is made from the code: ``python -m docs.maker [WHAT ...]``, of `MADE`.

Without a word the lessons, the reference and the charts. The site, and the page of skill, which
takes minutes and the open trials, are made only by name; ``history`` puts the lines of
``skill_history.csv`` on that page as it is; ``errors`` finds the model's own error, which takes
minutes too; ``promises`` holds it against the same trials.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

SITE = Path(__file__).resolve().parents[2] / ".site"


def lessons() -> None:
    """Run the lessons and write their pages and pictures."""
    from docs.maker import lessons as making

    for script in making.scripts():
        making.renew(script)
        print(f"Renewed: {making.page_of(script).name}")


def reference() -> None:
    """Write the reference from the code."""
    from docs.maker import reference as making

    for page in making.renew():
        print(f"Renewed: {page.name}")


def charts() -> None:
    """Draw the pictures of the gallery."""
    from docs.maker import gallery as making

    for picture in making.renew():
        print(f"Drawn: {picture.name}")


def site() -> None:
    """Build the site from the pages as they are."""
    from docs.maker import site as making

    try:
        making.build(SITE)
    except ModuleNotFoundError as error:
        sys.exit(f"{error.name} is not installed: python -m pip install -e '.[docs]' brings it.")
    except ValueError as error:
        sys.exit(str(error))
    print(f"Built: open {SITE.name}/index.html")


def skill() -> None:
    """Judge the model on the open trials and write the page of skill: some minutes."""
    from docs.maker import skill as making

    print(making.renew())


def history() -> None:
    """Put the history of the model's skill on its page."""
    from docs.maker import skill as making

    making.renew_history()
    print(f"Renewed: the history of {making.PAGE.name}")


def errors() -> None:
    """Find the sets of the model's own error, and put them on the page of skill: some minutes."""
    from docs.maker import skill as making

    print(making.renew_errors())


def promises() -> None:
    """Hold what ranges and chances promise against the open trials, on the page of the outlook."""
    from docs.maker import promises as making

    print(making.renew())


PAGES = {"lessons": lessons, "reference": reference, "charts": charts}
MADE: dict[str, Callable[[], None]] = {
    **PAGES,
    "site": site,
    "skill": skill,
    "history": history,
    "errors": errors,
    "promises": promises,
}


def main(asked: Sequence[str]) -> None:
    """Make what is asked for; without a word, `PAGES` alone."""
    if unknown := [name for name in asked if name not in MADE]:
        sys.exit(f"There is nothing called '{unknown[0]}' to make: name {', '.join(MADE)}.")
    for name in asked or PAGES:
        MADE[name]()


if __name__ == "__main__":
    main(sys.argv[1:])
