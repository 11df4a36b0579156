"""Drawing scenes once and keeping them: the photo as a JPEG file, its truth beside it."""

import hashlib
import pickle
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from tests import scene

KINDS = {
    "easy": scene.easy_spec,
    "colour": scene.colour_spec,
    "finding": scene.finding_spec,
    "chartless": scene.chartless_spec,
    "ordinary": scene.ordinary_spec,
}


@dataclass(frozen=True)
class Drawn:
    """A drawn scene on disk.

    Attributes
    ----------
    path : the JPEG.
    scene : the scene without its `rgb` (the photo is the file).
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
        import cv2

        return cv2.imread(str(self.path), cv2.IMREAD_COLOR)[..., ::-1]

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
    path = Path(folder) / f"{spec.seed}-{key_of(spec)}.jpg"
    beside = path.with_suffix(".truth.pickle")
    if not beside.exists():
        made = scene.draw(spec)
        scene.save(made, path)
        part = beside.with_suffix(".part")
        part.write_bytes(pickle.dumps(replace(made, rgb=None)))
        part.replace(beside)  # the truth comes last and whole: a broken run leaves no half scene
    return Drawn(path, pickle.loads(beside.read_bytes()))  # noqa: S301 - our own file


@cache
def _simulator():
    """Digest of the simulator's source: scenes of another version are not the same scenes."""
    digest = hashlib.sha256()
    for path in sorted(Path(scene.__file__).parent.glob("*.py")):
        if not path.name.startswith(("test_", "samples", "__main__")):
            digest.update(path.read_bytes())
    return digest.hexdigest()


def key_of(spec):
    return hashlib.sha256((repr(spec) + _simulator()).encode()).hexdigest()[:12]
