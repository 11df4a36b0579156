"""OpenCV's functions, typed to return numpy arrays.

OpenCV's own types let each function return either an array or a matrix of OpenCV's, so that every result would need a
conversion to please the type checker. Write `from swatchread.photo import opencv as cv2` in place of `import cv2`: the
names, the arguments and the results are the same.
"""

# mypy: implicit-reexport
# ruff: noqa: A001, F401, N816

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ParamSpec

import cv2
import numpy.typing as npt
from cv2 import (
    BORDER_CONSTANT,
    BORDER_REPLICATE,
    CC_STAT_AREA,
    CHAIN_APPROX_NONE,
    CHAIN_APPROX_SIMPLE,
    COLOR_GRAY2BGR,
    COLOR_RGB2GRAY,
    COLOR_RGB2LAB,
    CV_16S,
    CV_32F,
    CV_32S,
    DIST_C,
    DIST_L2,
    FILLED,
    IMREAD_ANYDEPTH,
    IMREAD_COLOR_RGB,
    IMREAD_IGNORE_ORIENTATION,
    IMREAD_UNCHANGED,
    INTER_AREA,
    INTER_CUBIC,
    INTER_LINEAR,
    INTER_NEAREST,
    LINE_AA,
    MORPH_BLACKHAT,
    MORPH_CLOSE,
    MORPH_ELLIPSE,
    MORPH_GRADIENT,
    MORPH_OPEN,
    MORPH_TOPHAT,
    RETR_EXTERNAL,
    RETR_LIST,
    WARP_INVERSE_MAP,
    arcLength,
    boundingRect,
    contourArea,
    error,
    imdecode,
    minAreaRect,
    pointPolygonTest,
    setNumThreads,
)

Array = npt.NDArray[Any]
_Arguments = ParamSpec("_Arguments")
_Matrix = cv2.typing.MatLike


def _array(function: Callable[_Arguments, _Matrix]) -> Callable[_Arguments, Array]:
    """Return the function unchanged, typed to return an array."""
    return function


# Values of pixels.
LUT = _array(cv2.LUT)
blur = _array(cv2.blur)
boxFilter = _array(cv2.boxFilter)
convertScaleAbs = _array(cv2.convertScaleAbs)
cvtColor = _array(cv2.cvtColor)
GaussianBlur = _array(cv2.GaussianBlur)
integral = _array(cv2.integral)
Laplacian = _array(cv2.Laplacian)
max = _array(cv2.max)
medianBlur = _array(cv2.medianBlur)
split: Callable[..., Sequence[Array]] = cv2.split
subtract = _array(cv2.subtract)
transform = _array(cv2.transform)

# Places of pixels.
flip = _array(cv2.flip)
getPerspectiveTransform = _array(cv2.getPerspectiveTransform)
perspectiveTransform = _array(cv2.perspectiveTransform)
remap = _array(cv2.remap)
resize = _array(cv2.resize)
transpose = _array(cv2.transpose)
warpAffine = _array(cv2.warpAffine)
warpPerspective = _array(cv2.warpPerspective)

# Areas.
connectedComponents: Callable[..., tuple[int, Array]] = cv2.connectedComponents
dilate = _array(cv2.dilate)
distanceTransform = _array(cv2.distanceTransform)
erode = _array(cv2.erode)
getStructuringElement = _array(cv2.getStructuringElement)
morphologyEx = _array(cv2.morphologyEx)
watershed = _array(cv2.watershed)

# Outlines.
approxPolyDP = _array(cv2.approxPolyDP)
boxPoints = _array(cv2.boxPoints)
convexHull = _array(cv2.convexHull)
drawContours = _array(cv2.drawContours)
fillConvexPoly = _array(cv2.fillConvexPoly)
fillPoly = _array(cv2.fillPoly)
findContours: Callable[..., tuple[Sequence[Array], Array]] = cv2.findContours
polylines = _array(cv2.polylines)
