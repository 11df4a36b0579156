"""Which files may be photos, told by their first bytes: what is none is refused before it is kept or decoded."""

from __future__ import annotations

from typing import Final

HEAD_BYTES: Final = 32
"""First bytes of a file that are enough to tell."""

_STARTS: Final = (
    b"\xff\xd8\xff",  # JPEG (ITU-T T.81)
    b"\x89PNG\r\n\x1a\n",  # PNG (ISO/IEC 15948)
    b"II*\0",  # TIFF, and the raw files built on it: DNG, NEF, ARW, CR2, PEF, SRW (TIFF 6.0)
    b"MM\0*",
    b"II+\0",  # BigTIFF
    b"MM\0+",
    b"IIRO",  # ORF
    b"IIRS",
    b"IIU\0",  # RW2
    b"FUJIFILMCCD-RAW",  # RAF
)
_BRANDS: Final = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"crx ")
"""Major brands of HEIF, AVIF and CR3 files (ISO/IEC 14496-12, 4.3)."""


def may_be_photo(head: bytes) -> bool:
    """Tell by a file's first `HEAD_BYTES` whether it may be a photo in a format that is read."""
    if head[4:8] == b"ftyp":
        return head[8:12] in _BRANDS
    if head[:4] == b"RIFF":
        return head[8:12] == b"WEBP"
    return head.startswith(_STARTS)
