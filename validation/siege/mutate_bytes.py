"""Files made wrong byte by byte: flips, cuts, doubled blocks, marks, other encodings, line ends, long lines, deep nesting."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

STRANGE = (
    b"\x00", b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"\xc0\x80", b"\xed\xa0\x80", b"\xf5\x80\x80\x80", b"\xff", b"\x80",
    b"\x1b[31m", b"\x1b]0;x\x07", b"\x7f", b"\x0b", b"\x0c", b"\x1c", b"\r", b"\n", b"\t", b"\x85", "\u2028".encode(),
    "\u202e".encode(), "\ufeff".encode(), "٣".encode(), "−".encode(), "½".encode(), "µ".encode(), b'"', b"'", b"'''",
    b'"""', b"=", b"[", b"]", b"{", b"}", b"#", b"\\", b"\\u0000", b"\\x1b", b"\\U0010ffff", b".", b",", b";", b"nan", b"inf",
)  # fmt: skip


def _flip(data: bytearray, random: Random) -> bytearray:
    for _ in range(random.choice((1, 1, 2, 5, 40))):
        if data:
            data[random.randrange(len(data))] ^= 1 << random.randrange(8)
    return data


def _cut(data: bytearray, random: Random) -> bytearray:
    return data[: random.randrange(len(data) + 1)]


def _headless(data: bytearray, random: Random) -> bytearray:
    return data[random.randrange(len(data) + 1) :]


def _taken_out(data: bytearray, random: Random) -> bytearray:
    first = random.randrange(len(data) + 1)
    del data[first : first + random.choice((1, 2, 10, 100))]
    return data


def _doubled(data: bytearray, random: Random) -> bytearray:
    first = random.randrange(len(data) + 1)
    block = data[first : first + random.choice((1, 3, 30, 300))]
    where = random.randrange(len(data) + 1)
    return data[:where] + block * random.choice((1, 1, 2, 50)) + data[where:]


def _swapped(data: bytearray, random: Random) -> bytearray:
    lines = data.split(b"\n")
    i, j = random.randrange(len(lines)), random.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return bytearray(b"\n".join(lines))


def _strange(data: bytearray, random: Random) -> bytearray:
    for _ in range(random.choice((1, 1, 2, 6))):
        where = random.randrange(len(data) + 1)
        data[where:where] = random.choice(STRANGE)
    return data


def _noise(data: bytearray, random: Random) -> bytearray:
    where = random.randrange(len(data) + 1)
    data[where : where + random.randrange(30)] = random.randbytes(random.randrange(30))
    return data


def _marked(data: bytearray, random: Random) -> bytearray:
    return bytearray(random.choice((b"\xef\xbb\xbf", b"\xef\xbb\xbf\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff"))) + data


def _encoded(data: bytearray, random: Random) -> bytearray:
    text = data.decode("utf-8", "replace")
    coding = random.choice(("utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "latin-1", "cp437", "utf-7"))
    return bytearray(text.encode(coding, "replace"))


def _ends(data: bytearray, random: Random) -> bytearray:
    return data.replace(b"\n", random.choice((b"\r\n", b"\r", b"\n\r", b"\r\r\n", b"\x85", b"\n\n", b"\x0b")))


def _long_line(data: bytearray, random: Random) -> bytearray:
    length = random.choice((2_000, 140_000, 140_000, 1_000_000, 3_900_000))
    piece = random.choice((b"x", b"9", b'"', b"[", b".a", b" ", b",", b";", b"= ", "é".encode(), b"1e9,", b"'"))
    where = random.randrange(len(data) + 1)
    data[where:where] = piece * (length // len(piece))
    return data


def _nested(data: bytearray, random: Random) -> bytearray:
    depth = random.choice((20, 60, 400, 1000, 20_000))
    opened, closed = random.choice(((b"[", b"]"), (b"{a=", b"}"), (b"[{a=", b"}]"), (b"a.", b"")))
    value = opened * depth + b"1" + closed * random.choice((depth, depth, 0))
    keys = (b"\nx = ", b"\n[limits]\nx = ", b"\ntolerances = ", b"\nstations = ", b"\n[sweep]\ngrid = ", b"\n")
    return data + random.choice(keys) + value + b"\n"


OFTEN: tuple[Callable[[bytearray, Random], bytearray], ...] = (
    _flip, _cut, _headless, _taken_out, _doubled, _swapped, _strange, _strange, _noise, _marked, _encoded, _ends, _nested,
)  # fmt: skip


def mutated_bytes(data: bytes, random: Random) -> bytes:
    """The file with one to three changes to its bytes; in about one of 150 a line of up to 4 MB, once in a while of 10 MB."""
    out = bytearray(data)
    for _ in range(random.choice((1, 1, 1, 2, 3))):
        out = random.choice(OFTEN)(out, random)
    if random.random() < 0.007:
        out = _long_line(out, random)
    if random.random() < 0.0003:
        out += random.choice((b"a", b"[", b'"', b"1,", b"\n")) * 10_000_000
    return bytes(out)
