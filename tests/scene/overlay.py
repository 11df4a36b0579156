"""White marks that a phone or a program draws into the finished photo: an icon, or a line of text."""

import cv2
import numpy as np


def _icon(rng, size):
    """Draw a ring with a bar, (size, size) uint8. Invented."""
    mask = np.zeros((size, size), np.uint8)
    middle, thick = (size // 2, size // 2), max(2, size // 12)
    cv2.circle(mask, middle, size // 2 - thick, 255, thick, cv2.LINE_AA)
    angle = rng.uniform(0, np.pi)
    reach = 0.25 * size * np.array([np.cos(angle), np.sin(angle)])
    ends = np.round(np.array([middle - reach, middle + reach])).astype(int)
    cv2.line(mask, tuple(map(int, ends[0])), tuple(map(int, ends[1])), 255, thick, cv2.LINE_AA)
    return mask


def _text(rng, size):
    """Draw a date and a time in plain strokes, as high as a third of the icon."""
    told = f"{rng.integers(1, 28):02d}.{rng.integers(1, 12):02d}. {rng.integers(24):02d}:{rng.integers(60):02d}"
    scale = size / 3 / 22
    thick = max(1, round(2 * scale))
    (width, height), below = cv2.getTextSize(told, cv2.FONT_HERSHEY_DUPLEX, scale, thick)
    mask = np.zeros((height + below + 4, width + 4), np.uint8)
    cv2.putText(mask, told, (2, height + 2), cv2.FONT_HERSHEY_DUPLEX, scale, 255, thick, cv2.LINE_AA)
    return mask


def opacity(spec, plan):
    """Opacity (h, w) float32 of the white mark over the photo; None without one."""
    if spec.overlay == "none":
        return None
    rng = np.random.default_rng([spec.seed, 66])
    width, height = plan.view.size
    mark = {"icon": _icon, "text": _text}[spec.overlay](rng, round(rng.uniform(0.04, 0.09) * width))
    room = np.array([width, height]) - mark.shape[::-1]
    if spec.overlay_over == "corner":
        place = rng.integers(0, 2, 2) * room * 0.92 + 0.04 * room
    else:
        corners = plan.view.project(plan.chart_mm if spec.overlay_over == "chart" else plan.card_mm)
        place = rng.dirichlet([2.0] * 4) @ corners - np.array(mark.shape[::-1]) / 2
    left, top = np.clip(np.round(place), 0, room).astype(int)
    whole = np.zeros((height, width), np.float32)
    whole[top : top + mark.shape[0], left : left + mark.shape[1]] = mark * np.float32(0.95 / 255)
    return whole


def laid(rgb, alpha):
    """Code values (h, w, 3) uint8 with the white mark over them."""
    return np.round(rgb + alpha[..., None] * (255 - rgb.astype(np.float32))).astype(np.uint8)
