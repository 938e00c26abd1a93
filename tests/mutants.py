"""Damage done to drawings on purpose, seeded: what breaks on the way, and what malice would try.

The kinds of damage are those of real collections of drawings (tags lost, doubled, moved;
numbers that are none; types exchanged; files cut off) and of hostile ones (counts that lie,
sizes without end, words that command).
"""

import random

NUMBERS = (
    b"nan", b"inf", b"-inf", b"1e300", b"1e999", b"1e-320", b"0", b"-0.0", b"-1", b"1e15", b"1e18",
    b"1,5", b"1.5mm", b"", b" ", b"0x10", b"1.0E 20", b"--1", b".", b"1_000", b"9" * 30,
)  # fmt: skip
COUNTS = (
    b"0", b"-1", b"1", b"32768", b"65535", b"2147483647", b"-2147483648", b"9999999999999999999",
    b"1.5", b"abc", b"", b"1e9", b"10000000",
)  # fmt: skip
WORDS = (
    b"", b"A" * 300, b"B" * 70_000, b"\x00", b"\xff\xfe", b"\x1b[2J", b"<script>", b"=1+1",
    b"../../x", b"*Model_Space", b"*Paper_Space", b"\\U+000A  0\\U+000ALINE", b"\\U+D800",
    b"%s%n{0}", "ü漢\u202e".encode(), b"SECTION", b"ENDSEC", b"EOF", b"LINE", b"0",
)  # fmt: skip
TYPES = (
    b"LINE", b"ARC", b"CIRCLE", b"ELLIPSE", b"SPLINE", b"LWPOLYLINE", b"POLYLINE", b"INSERT",
    b"HATCH", b"TEXT", b"MTEXT", b"DIMENSION", b"VERTEX", b"SEQEND", b"ATTRIB", b"ENDSEC", b"EOF",
    b"BLOCK", b"ENDBLK", b"VIEWPORT", b"XYZ",
)  # fmt: skip
CODES = tuple(str(code).encode() for code in (
    0, 1, 2, 5, 6, 8, 10, 11, 20, 21, 39, 40, 41, 42, 50, 51, 60, 62, 66, 67, 70, 71, 90, 100, 102,
    210, 230, 330, 999, 1000, -1, 70_000,
))  # fmt: skip

Tags = list[list[bytes]]


def mutant(seed: str, drawings: list[bytes]) -> bytes:
    """Return one of `drawings` damaged in up to six places; the same for the same seed."""
    rng = random.Random(seed)
    data = rng.choice(drawings)
    if rng.random() < 0.15:
        return _bytes_changed(rng, data)
    lines = data.replace(b"\r\n", b"\n").split(b"\n")
    tags = [lines[k : k + 2] for k in range(0, len(lines) - 1, 2)]
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        if len(tags) > 4:
            rng.choice(_WAYS)(rng, tags)
    return b"".join(b"%b\n%b\n" % (code, value) for code, value in tags)


def _somewhere(rng: random.Random, tags: Tags) -> int:
    """Return a tag, mostly where entities are: in the later part of a file."""
    from_tag = int(len(tags) * 0.7) if rng.random() < 0.7 else 0
    return rng.randrange(from_tag, len(tags))


def _other_value(rng: random.Random, tags: Tags) -> None:
    tag = tags[_somewhere(rng, tags)]
    code = int(tag[0]) if tag[0].strip().lstrip(b"-").isdigit() else 0
    number, count = 10 <= code < 60 or 210 <= code < 240, 60 <= code < 100
    tag[1] = rng.choice(NUMBERS if number else COUNTS if count else WORDS)


def _other_code(rng: random.Random, tags: Tags) -> None:
    tags[_somewhere(rng, tags)][0] = rng.choice(CODES)


def _other_type(rng: random.Random, tags: Tags) -> None:
    starts = [tag for tag in tags if tag[0].strip() == b"0"]
    if starts:
        rng.choice(starts)[1] = rng.choice(TYPES)


def _lost(rng: random.Random, tags: Tags) -> None:
    at = _somewhere(rng, tags)
    del tags[at : at + rng.choice((1, 1, 2, 5, 50))]


def _doubled(rng: random.Random, tags: Tags) -> None:
    at = _somewhere(rng, tags)
    some = tags[at : at + rng.choice((1, 2, 8, 30))]
    tags[at:at] = [list(tag) for tag in some * rng.choice((1, 1, 3, 100))]


def _exchanged(rng: random.Random, tags: Tags) -> None:
    i, j = _somewhere(rng, tags), _somewhere(rng, tags)
    tags[i], tags[j] = tags[j], tags[i]


def _added(rng: random.Random, tags: Tags) -> None:
    value = rng.choice(NUMBERS + COUNTS + WORDS)
    tags.insert(_somewhere(rng, tags), [rng.choice(CODES), value])


def _cut_off(rng: random.Random, tags: Tags) -> None:
    del tags[rng.randrange(1, len(tags)) :]


def _referred(rng: random.Random, tags: Tags) -> None:
    """Add a block reference somewhere: to a layout, a block, or nothing."""
    names = [tag[1] for tag in tags if tag[0].strip() == b"2"] or [b"X"]
    reference = [
        [b"0", b"INSERT"], [b"8", b"0"], [b"2", rng.choice(names)], [b"10", b"0"], [b"20", b"0"],
        [b"70", rng.choice(COUNTS)], [b"41", rng.choice(NUMBERS)],
    ]  # fmt: skip
    at = rng.choice([k for k, tag in enumerate(tags) if tag[0].strip() == b"0"] or [0])
    tags[at:at] = reference


_WAYS = (
    _other_value, _other_value, _other_value, _other_value, _other_code, _other_type, _other_type,
    _lost, _lost, _doubled, _exchanged, _added, _added, _cut_off, _referred,
)  # fmt: skip


def _bytes_changed(rng: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    way, at = rng.randrange(4), rng.randrange(len(data))
    if way == 0:
        for _ in range(rng.choice((1, 4, 64))):
            changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    elif way == 1:
        del changed[at : at + rng.choice((1, 2, 16, 500))]
    elif way == 2:
        changed[at:at] = bytes(rng.randrange(256) for _ in range(rng.choice((1, 3, 64))))
    else:
        changed = bytearray(data.replace(b"\n", rng.choice((b"\r", b"\n\n", b"\n "))))
    return bytes(changed)
