"""The page for a grower, as a browser prints it: on one sheet of paper."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from page_visit import browser  # noqa: F401  # fixtures
from pypdf import PdfReader

from simulator.answers.sheet.questions import QUESTIONS
from simulator.commands import fallsown

PAPERS = {"us": "Letter", "si": "A4"}
SLOW = {"why", "whatif"}  # grow hundreds of seasons; asked twice where all is tested


@pytest.mark.parametrize(
    ("units", "question"),
    [
        *(("us", question) for question in QUESTIONS),
        *(
            pytest.param("si", question, marks=[pytest.mark.long] if question in SLOW else [])
            for question in QUESTIONS
        ),
    ],
)
def test_a_browser_prints_it_on_one_sheet(
    browser: Any,  # noqa: F811
    question: str,
    units: str,
    tmp_path: Path,
) -> None:
    out = tmp_path / "sheet.html"
    asked = ["sheet", "--question", question, "--units", units, "--out", str(out)]
    assert CliRunner().invoke(fallsown, asked).exit_code == 0
    page = browser.new_page()
    try:
        page.goto(out.as_uri())
        pages = PdfReader(BytesIO(page.pdf(format=PAPERS[units]))).pages
    finally:
        page.close()
    assert len(pages) == 1
    assert "Keep in mind" in pages[0].extract_text()
