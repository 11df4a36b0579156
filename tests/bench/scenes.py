"""Drawing scenes once and keeping them: the photo as a JPEG file, its truth beside it."""

import hashlib
import pickle
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from tests import scene

KINDS = {
    "easy": scene.easy_spec,
    "colour": scene.colour_spec,
    "finding": scene.finding_spec,
    "chartless": scene.chartless_spec,
}


@dataclass(frozen=True)
class Drawn:
    """A drawn scene on disk.

    Attributes
    ----------
    path : the JPEG.
    scene : the scene; its `rgb` is an empty stand-in of the right shape (the photo is the file).
    """

    path: Path
    scene: scene.Scene

    @property
    def spec(self):
        return self.scene.spec

    @property
    def truth(self):
        return self.scene.truth

    def pixels(self):
        """Return decoded code values (h, w, 3) uint8, RGB, as viewed."""
        return _decoded(self.path)

    def dng(self):
        """Path of the same scene as a linear-light raw file; written when first asked for."""
        path = self.path.with_suffix(".dng")
        if not path.exists():
            part = path.with_suffix(".part")
            scene.save_dng(self.scene, part)
            part.replace(path)
        return path


def drawn(spec, folder):
    """Draw a spec into a folder, or take it from there when this very simulator has drawn it before."""
    path = Path(folder) / f"{spec.seed}-{_key(spec)}.jpg"
    beside = path.with_suffix(".truth.pickle")
    if not beside.exists():
        made = scene.draw(spec)
        scene.save(made, path)
        empty = scene.Scene(spec, _shape_only(made.rgb.shape), made.truth, made.rendering, made.light, made.gain_map)
        part = beside.with_suffix(".part")
        part.write_bytes(pickle.dumps((made.rgb.shape, empty.__dict__ | {"rgb": None})))
        part.replace(beside)  # the truth comes last and whole: a broken run leaves no half scene
    shape, parts = pickle.loads(beside.read_bytes())  # noqa: S301 - our own file
    return Drawn(path, scene.Scene(**(parts | {"rgb": _shape_only(shape)})))


def _shape_only(shape):
    """Return zeros of a shape that take no memory."""
    return np.broadcast_to(np.uint8(0), shape)


@cache
def _simulator():
    """Digest of the simulator's source: scenes of another version are not the same scenes."""
    digest = hashlib.sha256()
    for path in sorted(Path(scene.__file__).parent.glob("*.py")):
        if not path.name.startswith(("test_", "make_", "__main__")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def _key(spec):
    return hashlib.sha256((repr(spec) + _simulator()).encode()).hexdigest()[:12]


def _decoded(path):
    import cv2

    return cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1]
