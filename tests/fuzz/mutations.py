"""Seeded mutations of files: of bytes, of lines and cells of text, of packed parts."""

from __future__ import annotations

import io
import re
import zipfile
from random import Random

from tests.fuzz.seeds import Files

ODD = [
    "",
    " ",
    "nan",
    "inf",
    "-inf",
    "1e308",
    "1e-308",
    "1e999",
    "-9999",
    "-99.9",
    "99999",
    "0",
    "-0",
    "3_1",
    "0x1F",
    "0x" + "f" * 5000,
    "9" * 400,
    "1,234",
    "1.234,5",
    "=1+1",
    "#N/A",
    "#REF!",
    "NaT",
    "None",
    "true",
    "2005-02-30",
    "9999-12-31",
    "0001-01-01",
    "10/11/05",
    "31/12/2005",
    "1e5",
    "\x9b31m",
    "\x0c",
    "\x7f",
    "\ufffe",
    "\u202e",
    "\u2028",
    "\u0663\u0661",
    "\u2212",
    "\u00a0",
    "\x00",
    "\x1b[2J",
    '"',
    "'",
    '"""',
    "#",
    ";",
    "\t",
    "\r",
    "\r\n",
    "\n\n",
    "%s",
    "{}",
    "[[a]]",
    "a" * 25_000,
    "," * 300,
    "<!DOCTYPE a>",
    "[cereal.rye]",
    "x = 1979-05-27",
    "..",
    "/dev/zero",
    "latitude",
    "tmax (degF)",
    "rain (furlong)",
    "tmin (kelvin)",
    "T",
    "5000",
    "1e300",
    "-200",
]
_CELL = re.compile(rb"[^\s,;=\"<>]+")
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")


def mutated(files: Files, random: Random) -> Files:
    """Change one file, or its place, in one to four ways."""
    made = dict(files)
    name = random.choice(sorted(made))
    data = made[name]
    for _ in range(random.choice((1, 1, 1, 2, 4))):
        data = _packed(data, random) if data.startswith(b"PK\x03\x04") else _one(data, random)
    made[name] = data
    if len(made) > 1 and random.random() < 0.05:
        del made[random.choice(sorted(made))]
    return made


def _packed(data: bytes, random: Random) -> bytes:
    """Change a part of a spreadsheet, most often, or its bytes."""
    if random.random() < 0.2:
        return _bytes(data, random)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = {name: packed.read(name) for name in packed.namelist()}
    except Exception:  # an earlier mutation tore it
        return _bytes(data, random)
    sheets = [name for name in parts if "sheet1" in name]
    name = random.choice(sheets if sheets and random.random() < 0.6 else sorted(parts))
    parts[name] = _one(parts[name], random)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        for part, content in parts.items():
            packed.writestr(part, content)
    return made.getvalue()


def _one(data: bytes, random: Random) -> bytes:
    textual = b"\0" not in data[:2000]
    ways = (_cell, _cell, _cell, _number, _line, _bytes) if textual else (_bytes,)
    return random.choice(ways)(data, random)


def _odd(random: Random) -> bytes:
    text = random.choice(ODD)
    return text.encode(random.choice(("utf-8", "utf-8", "utf-8", "latin-1")), "replace")


def _cell(data: bytes, random: Random) -> bytes:
    """Put something odd in place of, before or behind a word, or of all like it."""
    found = list(_CELL.finditer(data[:200_000]))
    if not found:
        return data + _odd(random)
    at, odd = random.choice(found), _odd(random)
    way = random.random()
    if way < 0.1:
        return data.replace(at[0], odd)
    if way < 0.2:
        odd = at[0] + odd
    return data[: at.start()] + odd + data[at.end() :]


def _number(data: bytes, random: Random) -> bytes:
    """Scale, shift, negate or repeat digits of one number, or of all."""
    ways = (
        lambda n: b"-" + n,
        lambda n: n * 8,
        lambda n: n + b"e9",
        lambda n: n[::-1],
        lambda n: n.replace(b".", b","),
        lambda n: b"0",
        lambda n: b"%d" % random.getrandbits(70),
        lambda n: n[:1],
    )
    change = random.choice(ways)
    found = list(_NUMBER.finditer(data[:200_000]))
    if not found:
        return data
    if random.random() < 0.1:
        return _NUMBER.sub(lambda at: change(at[0]), data)
    at = random.choice(found)
    return data[: at.start()] + change(at[0]) + data[at.end() :]


def _line(data: bytes, random: Random) -> bytes:
    """Repeat, take out, exchange, join or turn around lines."""
    lines = data.split(b"\n")
    i, j = random.randrange(len(lines)), random.randrange(len(lines))
    way = random.randrange(6)
    if way == 0:
        lines.insert(i, lines[j])
    elif way == 1:
        del lines[i]
    elif way == 2:
        lines[i], lines[j] = lines[j], lines[i]
    elif way == 3:
        lines[i] = lines[i] + lines[j]
    elif way == 4:
        lines.reverse()
    else:
        lines = lines[: i + 1] + lines[i:] * random.choice((1, 3))
    return b"\n".join(lines)


def _bytes(data: bytes, random: Random) -> bytes:
    """Flip, cut, repeat, zero or insert bytes, or say that it is written in another way."""
    if not data:
        return _odd(random)
    at = random.randrange(len(data))
    length = random.choice((1, 2, 4, 8, 100, len(data)))
    span = data[at : at + length]
    ways = (
        lambda: data[:at] + bytes([data[at] ^ (1 << random.randrange(8))]) + data[at + 1 :],
        lambda: data[:at] + random.randbytes(len(span)) + data[at + length :],
        lambda: data[:at] + data[at + length :],
        lambda: data[:at],
        lambda: data[:at] + span * 3 + data[at + length :],
        lambda: data[:at] + b"\0" * len(span) + data[at + length :],
        lambda: data[:at] + b"\xff" * len(span) + data[at + length :],
        lambda: data[:at] + _odd(random) + data[at:],
        lambda: data.decode("latin-1").encode("utf-16"),
    )
    return random.choice(ways)()
