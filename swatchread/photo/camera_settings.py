"""How the camera was set, as a photo's EXIF says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

_TAGS = {"exposure": 0x829A, "aperture": 0x829D, "iso": 0x8827, "bias": 0x9204, "balance": 0xA403, "focal": 0x920A}
_NAMES = {
    "exposure": "exposure time",
    "aperture": "aperture",
    "iso": "ISO",
    "bias": "exposure compensation",
    "balance": "white balance",
    "focal": "focal length",
}
_RENDERED, _SCENE, _NIGHT = 0xA401, 0xA406, 3
_COMPOSED = {2: "high dynamic range", 3: "high dynamic range", 7: "portrait", 8: "portrait"}
_ROUNDING = 0.02
"""Largest difference of two settings that passes for rounding, as a share of the larger."""


@dataclass(frozen=True, slots=True)
class Settings:
    """Camera settings by Exif 3.0; None where the photo does not say.

    Attributes
    ----------
    exposure : float or None
        Exposure time, s.
    aperture : float or None
        F-number.
    iso : float or None
        Sensitivity.
    bias : float or None
        Exposure compensation, stops.
    balance : float or None
        White balance: 0 automatic, 1 manual.
    focal : float or None
        Focal length, mm.
    """

    exposure: float | None = None
    aperture: float | None = None
    iso: float | None = None
    bias: float | None = None
    balance: float | None = None
    focal: float | None = None


def settings_of(details: Mapping[int, Any]) -> Settings:
    """Return the camera settings in a photo's EXIF; a setting that is missing or unreadable is None.

    Parameters
    ----------
    details : mapping
        Values of the Exif IFD by their tags. They are not trusted.
    """
    return Settings(**{name: _number(details.get(tag)) for name, tag in _TAGS.items()})


def processing_of(details: Mapping[int, Any]) -> str | None:
    """Return the mode in which the camera composed a photo from several, or retouched it, if its EXIF says so.

    Exif 3.0 knows custom rendering (0xA401 = 1) and night scenes (0xA406 = 3). Phones also write larger numbers into
    the first for high dynamic range and portraits (from memory); 4 is the plain photo beside one of them.

    Parameters
    ----------
    details : mapping
        Values of the Exif IFD by their tags. They are not trusted.
    """
    rendered, scene = (_number(details.get(tag)) for tag in (_RENDERED, _SCENE))
    if scene == _NIGHT:
        return "night scene"
    return _COMPOSED.get(int(rendered)) if rendered is not None else None


def changed(before: Settings, after: Settings) -> tuple[str, ...]:
    """Name the settings that differ, for the painter; a setting that one photo lacks is not compared.

    Parameters
    ----------
    before, after : Settings

    Returns
    -------
    tuple of str
        For instance ``"ISO 100, now 400"``.
    """
    differences = []
    for name in (field.name for field in fields(Settings)):
        one, other = getattr(before, name), getattr(after, name)
        if one is not None and other is not None and abs(one - other) > _ROUNDING * max(abs(one), abs(other)):
            differences.append(f"{_NAMES[name]} {_in_words(name, one)}, now {_in_words(name, other)}")
    return tuple(differences)


def _in_words(name: str, value: float) -> str:
    if name == "exposure":
        return f"1/{1 / value:.0f} s" if 0 < value < 0.4 else f"{value:g} s"
    if name == "balance":
        return {0.0: "automatic", 1.0: "manual"}.get(value, f"{value:g}")
    return {"aperture": "f/{:g}", "bias": "{:+.1f}", "focal": "{:g} mm"}.get(name, "{:g}").format(value)


def _number(value: Any) -> float | None:
    """Return a setting as a number within sane limits; a file may hold anything there."""
    if isinstance(value, tuple | list) and value:
        value = value[0]
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if -1e6 < number < 1e6 else None
