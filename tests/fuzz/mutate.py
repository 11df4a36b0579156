"""Damaging bytes and JSON: the ways in which files go wrong, and those in which somebody would make them."""

from __future__ import annotations

import json
import zlib

WORDS = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
PIECES = (
    b"\x00", b"\xff\xff", b"\xff\xd9", b"\xff\xda", b"IEND", b"%s%n", b"../", b'"', b"'", b"\\", b"{", b"[", b"\r\n",
    b":",
    b"1e999", b"-", b"9" * 30, b"9" * 5000, b"\xe2\x80\xae", b"\xed\xa0\x80", b"\xf0\x9f\x8e\xa8", b"<script>", b"=1+1",
    b"/0", b"%", b"(" * 300, b"touch of ", b"\\UFFFFFFFF", b"\\uD800",
)  # fmt: skip
VALUES = (
    None, True, "", "x" * 20_000, "<script>alert(1)</script>", "\ud800", "\u0000", "\u202e", "../../x", -1, 0, 10**400,
    2**63, 1e308, -1e308, 1e-320, float("nan"), float("inf"), [], {}, [[]], "NaN", "2024-13-45T99:99:99Z",
    "r99999999c1",
    [1e308, 1e308, 1e308], [float("nan")] * 3, [0, 0, 0],
)  # fmt: skip


def damaged(data, others, rng):
    """Return bytes with one to four faults; `rng` is a `random.Random`."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        rng.choice(_FAULTS)(out, others, rng)
    return bytes(out[: 4 * len(data) + 20_000])


def _place(out, rng):
    # Headers stand in front, and most of what can go wrong is told there.
    return rng.randrange(min(len(out), rng.choice((64, 512, 1 << 30)))) if out else 0


def _flip(out, _others, rng):
    if out:
        out[_place(out, rng)] ^= 1 << rng.randrange(8)


def _number(out, _others, rng):
    at, size = _place(out, rng), rng.choice((1, 2, 4))
    word = (rng.choice(WORDS) & (256**size - 1)).to_bytes(size, rng.choice(("big", "little")))
    out[at : at + size] = word


def _noise(out, _others, rng):
    at = _place(out, rng)
    count = rng.choice((1, 8, 64))
    out[at : at + count] = rng.randbytes(count)


def _cut(out, _others, rng):
    del out[_place(out, rng) :]


def _remove(out, _others, rng):
    at = _place(out, rng)
    del out[at : at + rng.choice((1, 4, 100))]


def _insert(out, _others, rng):
    at = _place(out, rng)
    out[at:at] = rng.choice(PIECES)


def _repeat(out, _others, rng):
    at = _place(out, rng)
    out[at:at] = out[at : at + rng.choice((1, 16, 400))] * rng.choice((1, 3, 30))


def _splice(out, others, rng):
    other = rng.choice(others)
    at = _place(out, rng)
    out[at:] = other[rng.randrange(len(other)) :]


_FAULTS = (_flip, _number, _noise, _cut, _remove, _insert, _repeat, _splice)


def resealed(data):
    """Return a PNG with its checksums right again, so that damage gets past them (ISO/IEC 15948, 5.3)."""
    out, at = bytearray(data[:8]), 8
    while at + 12 <= len(data):
        size = int.from_bytes(data[at : at + 4], "big")
        body = data[at + 4 : at + 8 + size]
        out += data[at : at + 4] + body + zlib.crc32(body).to_bytes(4, "big")
        at += 12 + size
    return bytes(out)


def damaged_json(data, rng):
    """Return JSON text of the same shape with one or two values, keys or items wrong."""
    whole = json.loads(data)
    for _ in range(rng.choice((1, 1, 2))):
        _damage_value(whole, rng)
    text = json.dumps(whole, ensure_ascii=rng.random() < 0.5)
    if rng.random() < 0.02:
        text = "[" * 100_000 + text
    return text.encode("utf-8", "surrogatepass")


def _damage_value(whole, rng):
    holder = whole
    while True:
        keys = list(holder) if isinstance(holder, dict) else list(range(len(holder)))
        if not keys:
            return
        key = rng.choice(keys)
        inner = holder[key]
        if not isinstance(inner, dict | list) or not inner or rng.random() < 0.15:
            break
        holder = inner
    fault = rng.randrange(5)
    if fault == 0:
        del holder[key]
    elif fault == 1 and isinstance(holder, list):
        holder.extend([inner] * rng.choice((1, 300)))
    elif fault == 2 and isinstance(inner, int | float) and abs(inner) < 2**64:
        holder[key] = inner * rng.choice((-1, 0, 1e6, 1e-9, 1e300))
    else:
        holder[key] = rng.choice(VALUES)
