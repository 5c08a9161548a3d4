"""The parts that a spreadsheet (.xlsx) packs, gone through before anything parses them.

What unpacks to a few megabytes may still take gigabytes and minutes, for each tag becomes an
object: so tags are counted. What a sheet says of its own size is not believed, and its rows must be
numbered in order, for the library passes over a row whose number is not.

References
----------
ECMA-376, Office Open XML File Formats, part 1: sections 18.3.1.73 (row), 18.4.8 (si) and 18.8.10
(cellXfs). A sheet has at most 1,048,576 rows.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass

from simulator.problems import InputError, fault

MOST_UNPACKED = 160 * 2**20  # bytes; 200,000 rows of four cells unpack to about 40 MB
MOST_MEMBERS = 1000
MOST_ROWS = 1_048_576
MOST_ELEMENTS = 4_000_000  # of a sheet; a cell with a value has two
MOST_ELEMENTS_OF_TEXTS = 1_000_000  # of the table of texts, which has two for each, or more
MOST_TEXTS = 500_000
MOST_ELEMENTS_ELSEWHERE = 150_000  # 64,000 styles, the most that there may be, have about so many
MOST_TAGS_OF_A_ROW = 100_000  # 16,384 columns, the most that there may be, have fewer
_CHUNK = 2**20  # bytes
_LONGEST_TAG = 512  # bytes of one that is looked at
_ROW_OR_TEXT = re.compile(rb"<(?:[^\s<>/:=]{1,80}:)?(row|si)(?=[\s/>])([^<>]*)")
_NUMBER = re.compile(rb"""\sr\s*=\s*["']([^"']*)["']""")
_SHEET, _TEXTS = re.compile(rb"<(?:[^\s<>/:=]{1,80}:)?worksheet[\s/>]"), "sharedstrings.xml"
_DECLARES = re.compile(rb"<!(?:DOCTYPE|ENTITY)")
_ONE_PLACE = "Keep one sheet with the daily record only, or save it as CSV."


@dataclass(slots=True)
class _Counts:
    """What was met of a part so far."""

    elements: int = 0
    of_row: int = 0
    rows: int = 0
    texts: int = 0
    row: int = 0


def check_parts(packed: zipfile.ZipFile, file: str) -> None:
    """Refuse what unpacks beyond bounds, declares entities, or numbers its rows out of order.

    Parameters
    ----------
    packed : ZipFile
        The spreadsheet.
    file : str
        Its name.

    Raises
    ------
    InputError
        Beyond a bound.
    Exception
        As zipfile and zlib raise for a damaged file, of many kinds.
    """
    members = packed.infolist()
    if len(members) > MOST_MEMBERS or sum(m.file_size for m in members) > MOST_UNPACKED:
        raise fault(
            file,
            f"It unpacks to over {MOST_UNPACKED // 2**20} MB.",
            "Keep one sheet with the daily record only.",
        )
    for member in members:
        _check_part(packed, member, file)


def _check_part(packed: zipfile.ZipFile, member: zipfile.ZipInfo, file: str) -> None:
    met = _Counts()
    sheet, most = False, MOST_ELEMENTS_ELSEWHERE
    for at, data in enumerate(_chunks(packed, member)):
        if at == 0:
            begins = data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"<"
            named = member.filename.lower().endswith((".xml", ".rels"))
            if not begins and not named and data[:2] not in (b"\xff\xfe", b"\xfe\xff"):
                return  # a picture
            if not begins or b"\0" in data:
                raise fault(file, f"Its part {member.filename} is not in UTF-8.", "Save it as CSV.")
            sheet = _SHEET.search(data[:_CHUNK]) is not None
            if sheet:
                most = MOST_ELEMENTS
            elif member.filename.lower().endswith(_TEXTS):
                most = MOST_ELEMENTS_OF_TEXTS
        if _DECLARES.search(data):
            raise fault(
                file,
                "It declares XML entities, which no spreadsheet program writes.",
                "Save it as CSV.",
            )
        tags = data.count(b"<")
        met.elements += data.count(b"</") + data.count(b"/>")
        _count(met, data, tags, file, sheet)
        if met.elements > most or met.texts > MOST_TEXTS or (not tags and len(data) >= _CHUNK):
            raise fault(
                file,
                f"Its part {member.filename} holds more than a spreadsheet of one record does.",
                _ONE_PLACE,
            )


def _chunks(packed: zipfile.ZipFile, member: zipfile.ZipInfo) -> Iterator[bytes]:
    """Unpack a part piece by piece, none of which ends within a tag of usual length."""
    kept = b""
    with packed.open(member) as part:
        while read := part.read(_CHUNK):
            data = kept + read
            cut = data.rfind(b"<", max(1, len(data) - _LONGEST_TAG))
            data, kept = (data, b"") if cut < 0 else (data[:cut], data[cut:])
            yield data
    if kept:
        yield kept


def _count(met: _Counts, data: bytes, tags: int, file: str, sheet: bool) -> None:
    """Count texts, and in a sheet rows and the tags of each; hold row numbers to their order."""
    last = 0
    for found in _ROW_OR_TEXT.finditer(data):
        if found[1] == b"si":
            met.texts += 1
            continue
        if not sheet:
            continue
        met.of_row += data.count(b"<", last, found.start())
        _refuse_long_row(met, file)
        met.of_row, last = 0, found.start()
        met.rows += 1
        number = _NUMBER.search(found[2])
        _next_row(met, number[1] if number else None, file)
    met.of_row += data.count(b"<", last) if last else tags
    if sheet:
        _refuse_long_row(met, file)


def _refuse_long_row(met: _Counts, file: str) -> None:
    if met.of_row > MOST_TAGS_OF_A_ROW:
        where = f"{file}, row {met.row}" if met.row else file
        raise fault(where, f"It has more than {MOST_TAGS_OF_A_ROW:,} tags.", _ONE_PLACE)


def _next_row(met: _Counts, said: bytes | None, file: str) -> None:
    before = met.row
    if said is None:
        met.row += 1
    else:
        text = said.decode("ascii", "replace")
        if not re.fullmatch(r"\d{1,7}(\.0*)?", text) or not 0 < int(float(text)) <= MOST_ROWS:
            raise fault(
                file,
                f"After row {before} comes a row numbered '{text[:40]}'; a sheet has "
                f"at most {MOST_ROWS:,}.",
                "Save it anew, or as CSV.",
            )
        met.row = int(float(text))
    if met.row <= before or met.row > MOST_ROWS:
        raise fault(
            file, f"After row {before} comes a row numbered {met.row}.", "Save it anew, or as CSV."
        )


def unpackable(file: str) -> InputError:
    """Return the fault of a file that looks like a spreadsheet and cannot be unpacked."""
    return fault(
        file, "It looks like a spreadsheet but cannot be unpacked.", "Save it anew, or as CSV."
    )
