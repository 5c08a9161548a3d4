"""The site: the pages as they stand, gathered with what they link to, built to be read offline."""

from __future__ import annotations

import logging
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
PAGES = ("README.md", "DEVELOPERS.md", "weather-samples/README.md", "docs/**/*.md")
BESIDE = ("docs/**/*.svg", "docs/site.css", "docs/iframe-worker.js")
_LINK = re.compile(r"\]\(([^)\s]+)\)")
_FENCED = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)


def pages() -> list[Path]:
    """List every page of the documentation, as paths from the repository's root."""
    return [path.relative_to(ROOT) for pattern in PAGES for path in sorted(ROOT.glob(pattern))]


def links(page: Path) -> Iterator[tuple[str, str]]:
    """Give the relative links of a page: the file, empty for the page itself, and the heading."""
    text = _FENCED.sub("", (ROOT / page).read_text(encoding="utf-8"))
    for target in _LINK.findall(text):
        if not re.match(r"[a-z]+:", target):
            file, _, heading = target.partition("#")
            yield file, heading


def gather(folder: Path) -> None:
    """Copy the pages, their pictures and the files they link to, each to its own place."""
    wanted = {*pages()}
    wanted |= {path.relative_to(ROOT) for pattern in BESIDE for path in ROOT.glob(pattern)}
    for page in pages():
        for file, _ in links(page):
            target = (ROOT / page).parent / file
            if target.is_file():
                wanted.add(target.resolve().relative_to(ROOT))
    for path in wanted:
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / path, folder / path)


def build(site: Path) -> None:
    """Build the site into a folder.

    Raises
    ------
    ValueError
        A page is in no menu, or a link leads nowhere.
    """
    from mkdocs.commands.build import build as build_pages
    from mkdocs.config import load_config

    doubts = _Doubts()
    logging.getLogger("mkdocs").addHandler(doubts)
    try:
        with TemporaryDirectory() as name:
            gather(Path(name))
            config = load_config(str(ROOT / "docs/mkdocs.yml"), docs_dir=name, site_dir=str(site))
            config.plugins.on_startup(command="build", dirty=False)
            build_pages(config)
            (site / "404.html").unlink()  # no server, no page for what it lacks
            config.plugins.on_shutdown()
    finally:
        logging.getLogger("mkdocs").removeHandler(doubts)
    if doubts.told:
        raise ValueError("The site has faults:\n" + "\n".join(doubts.told))


class _Doubts(logging.Handler):
    """Keeps what the builder warns of."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.told: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.told.append(record.getMessage())
