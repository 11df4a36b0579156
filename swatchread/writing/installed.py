"""Whether handwriting can be read here: the recogniser comes with an extra."""

from __future__ import annotations

import importlib.util


def is_installed() -> bool:
    """Tell whether the extra ``swatchread[writing]`` is installed."""
    return all(importlib.util.find_spec(name) for name in ("rapidocr", "onnxruntime"))
