"""The sheet as a PDF of one page, its chart drawn as lines and letters, not as a picture."""

from __future__ import annotations

import unicodedata
from bisect import bisect_left
from collections.abc import Sequence
from functools import cache
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

from simulator.answers.sheet.layout import BESIDE, Sheet, bare, whole
from simulator.show.charts import specification
from simulator.show.drawing import draw
from simulator.show.tables import Column

MARGIN = 43.0  # points
TALLEST_CHART = 0.4  # of the page
GAPS = 4  # between the parts of the page, which share what is left over
SIZES = tuple(1.24 - 0.02 * at for at in range(28))  # of letters, the largest that fits is taken
INK, SOFT, LINE, MARK, WARN = "#1f2328", "#5c636b", "#d5d9dd", "#072f42", "#8a4410"
_ENCODING = "cp1252"  # what the typefaces that every reader of PDF has can show


def lacking(text: str) -> str:
    """Return the letters of a text that the PDF's typeface lacks."""
    return "".join(dict.fromkeys(c for c in text if not _is_printable(c)))


def _is_printable(letter: str) -> bool:
    try:
        letter.encode(_ENCODING)
    except UnicodeEncodeError:
        return False
    return letter.isprintable()


def _plain(text: str) -> str:
    """Replace letters that the typeface lacks: by the letter without its accent, else by ?."""
    found = []
    for letter in text:
        base = letter if _is_printable(letter) else unicodedata.normalize("NFKD", letter)[0]
        found.append(base if _is_printable(base) else "?" if letter.isprintable() else " ")
    return escape("".join(found))


def pdf(sheet: Sheet, paper: str) -> bytes:
    """Lay a sheet out so that it fills one page; where it is too long, smaller.

    Parameters
    ----------
    sheet : Sheet
    paper : {"letter", "a4"}

    Returns
    -------
    bytes
        Without a date in it.
    """
    from pypdf import PdfReader, PdfWriter, Transformation
    from reportlab.lib.pagesizes import A4, letter
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Frame, KeepInFrame

    spec = specification(bare(sheet.chart))
    drawn = PdfReader(BytesIO(draw("pdf", spec))).pages[0]
    wide, high = float(drawn.mediabox.width), float(drawn.mediabox.height)
    size = {"letter": letter, "a4": A4}[paper]
    inner = (size[0] - 2 * MARGIN, size[1] - 2 * MARGIN)
    room, story = _room_and_story(sheet, (wide, high), inner)
    page = BytesIO()
    canvas = Canvas(page, pagesize=size, invariant=1, lang="en")
    canvas.setTitle(f"{sheet.question} {sheet.place}")
    canvas.setSubject(" ".join(sheet.answer))
    canvas.setCreator(sheet.made.split(":")[0])
    frame = Frame(MARGIN, MARGIN, *inner, 0, 0, 0, 0)
    fitted = KeepInFrame(*inner, story, mode="shrink")
    frame.addFromList([fitted], canvas)
    canvas.save()
    (left, bottom), (right, _) = room.corners
    writer = PdfWriter(clone_from=BytesIO(page.getvalue()))
    shrunk = (right - left) / wide
    writer.pages[0].merge_transformed_page(
        drawn, Transformation().scale(shrunk).translate(left, bottom)
    )
    writer.pages[0].compress_content_streams()
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def _room_and_story(
    sheet: Sheet, drawn: tuple[float, float], inner: tuple[float, float]
) -> tuple[Any, list[Any]]:
    """Return the chart's room and what stands on the page, in the largest letters that fit.

    The chart is as wide as the page, and what is left over goes between the parts.
    """
    widest = min(inner[0] / drawn[0], TALLEST_CHART * inner[1] / drawn[1])

    def room_at(size: float) -> Any:
        scale = widest * min(size, 1.0)
        return _chart_room(drawn[0] * scale, drawn[1] * scale)

    @cache  # the text is laid out for it, which takes long
    def left_over(size: float) -> float:
        return inner[1] - _height(_story(sheet, room_at(size), inner[0], size), inner)

    fits = bisect_left(SIZES, True, key=lambda size: left_over(size) >= 0.0)
    size = SIZES[min(fits, len(SIZES) - 1)]  # what is too much for the smallest is shrunk
    room, left = room_at(size), left_over(size)
    gap = max(left - 1.0, 0.0) / GAPS
    return room, _story(sheet, room, inner[0], size, gap)


def _height(story: Sequence[Any], inner: tuple[float, float]) -> float:
    """Return how high what stands on the page is."""
    total, before = 0.0, 0.0
    for at, block in enumerate(story):
        above = max(block.getSpaceBefore(), before) if at else 0.0
        total += above + block.wrap(*inner)[1]
        before = block.getSpaceAfter()
    return total


def _chart_room(width: float, height: float) -> Any:
    """Make a room left free for the chart, that remembers where on the page it came to lie."""
    from reportlab.platypus import Flowable

    class Room(Flowable):  # type: ignore[misc]  # reportlab has no types
        corners: Sequence[tuple[float, float]]

        def __init__(self) -> None:
            super().__init__()
            self.width, self.height, self.hAlign = width, height, "CENTER"

        def draw(self) -> None:
            place = self.canv.absolutePosition
            self.corners = (place(0, 0), place(width, height))

    return Room()


def _story(sheet: Sheet, room: Any, width: float, scale: float, gap: float = 0.0) -> list[Any]:
    """Return what stands on the page, from the top down, with a gap between its parts."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import HRFlowable, Paragraph, Spacer, Table

    def style(size: float, *, leading: float = 1.3, **more: Any) -> Any:
        about = {"fontName": "Helvetica", "textColor": INK, "spaceAfter": 4, **more}
        high = scale * size
        return ParagraphStyle("text", fontSize=high, leading=leading * high, **about)

    title = style(18, fontName="Helvetica-Bold", leading=1.15)
    head = style(10, fontName="Helvetica-Bold", spaceAfter=3)
    invented = f' <font color="{WARN}"><b>(invented place and weather)</b></font>'
    place = f'<font color="{INK}"><b>{_plain(sheet.place)}</b></font>'
    top = f"{place}{invented if sheet.invented else ''} · {_plain(sheet.field)}"
    answer = Table([[Paragraph(_plain(" ".join(sheet.answer)), style(11.5, spaceAfter=0))]],
                   colWidths=[width], spaceAfter=9, style=[
        ("LINEBEFORE", (0, 0), (0, 0), 3, MARK), ("LEFTPADDING", (0, 0), (0, 0), 10),
        ("TOPPADDING", (0, 0), (0, 0), 0), ("BOTTOMPADDING", (0, 0), (0, 0), 2)])  # fmt: skip

    both = _lists(sheet, width, style, head)
    return [
        Paragraph(top, style(9.5, textColor=SOFT)),
        Paragraph(_plain(sheet.question), title),
        Spacer(1, 3),
        answer,
        Spacer(1, 2 + gap),
        Paragraph(_plain(sheet.chart_title), head),
        room,
        Spacer(1, 6 + gap),
        _table(sheet, width, style, 9 * scale),
        Paragraph(_plain(sheet.table_note), style(8.6, textColor=SOFT, spaceBefore=4)),
        *_beside_bare(sheet, style),
        Spacer(1, 5 + gap),
        both,
        Spacer(1, gap),
        HRFlowable(width="100%", thickness=0.6, color=LINE, spaceAfter=4),
        Paragraph(_plain(sheet.made), style(8, textColor=SOFT)),
    ]


def _beside_bare(sheet: Sheet, style: Any) -> list[Any]:
    """Lay out what the stand keeps or leaves beside bare soil."""
    from reportlab.platypus import Paragraph

    if not sheet.beside_bare:
        return []
    text = f"<b>{BESIDE}</b> {_plain(sheet.beside_bare)}"
    return [Paragraph(text, style(9, spaceBefore=4))]


def _lists(sheet: Sheet, width: float, style: Any, head: Any) -> Any:
    """Lay out what the answer rests on beside what to keep in mind."""
    from reportlab.platypus import Paragraph, Table

    def points(name: str, texts: Sequence[str]) -> list[Any]:
        indent = style(8.8, leading=1.28, leftIndent=9, bulletIndent=0, spaceAfter=2)
        return [
            Paragraph(name, head),
            *(Paragraph(_plain(text), indent, bulletText="•") for text in texts),
        ]

    between = 22
    rests = 0.58 * (width - between)  # of the two lists it is the longer
    return Table(
        [
            [
                points("What this rests on", sheet.assumptions),
                "",
                points("Keep in mind", sheet.cautions),
            ]
        ],
        colWidths=[rests, between, width - between - rests],
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
        ],
    )


def _table(sheet: Sheet, width: float, style: Any, size: float) -> Any:
    from reportlab.platypus import Paragraph, Table

    def cell(text: str, at: int, **more: Any) -> Any:
        right = 0 if sheet.columns[at].left else 2
        return Paragraph(text, style(9, alignment=right, spaceAfter=0, **more))

    def head(column: Column) -> str:
        unit = f'<br/><font color="{SOFT}">{_plain(column.unit)}</font>' if column.unit else ""
        return f"<b>{_plain(whole(column.title))}</b>{unit}"

    heads = [cell(head(column), at) for at, column in enumerate(sheet.columns)]
    rows = [[cell(_plain(text), at) for at, text in enumerate(row)] for row in sheet.rows]
    return Table(
        [heads, *rows], colWidths=_widths(sheet, width, size),
        style=[("LINEBELOW", (0, 0), (-1, 0), 1, INK), ("LINEBELOW", (0, 1), (-1, -1), 0.5, LINE),
               ("VALIGN", (0, 0), (-1, -1), "BOTTOM"), ("LEFTPADDING", (0, 0), (0, -1), 0),
               ("RIGHTPADDING", (-1, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 2.5),
               ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5)],
    )  # fmt: skip


def _widths(sheet: Sheet, width: float, size: float) -> list[float]:
    """Share the width out: each column as its cells and longest word need, the rest to titles."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    def wide(text: str, font: str) -> float:
        return float(stringWidth(text, font, size)) + 13.0

    titles = [whole(column.title) for column in sheet.columns]
    least = [
        max(
            [
                *(wide(row[at], "Helvetica") for row in sheet.rows),
                wide(sheet.columns[at].unit, "Helvetica"),
                *(wide(word, "Helvetica-Bold") for word in title.split()),
            ],
            default=0.0,
        )
        for at, title in enumerate(titles)
    ]
    wanted = [
        max(wide(title, "Helvetica-Bold"), one) for title, one in zip(titles, least, strict=True)
    ]
    if sum(wanted) <= width:
        return [one + (width - sum(wanted)) / len(wanted) for one in wanted]
    spare = max(width - sum(least), 0.0) / max(sum(wanted) - sum(least), 1.0)
    return [one + spare * (more - one) for one, more in zip(least, wanted, strict=True)]
