"""Recorded swatches as the numbers that a fit works on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats


@dataclass(frozen=True, eq=False)
class Samples:
    """Mixtures with their measured colours.

    Attributes
    ----------
    tubes : tuple of str, length t
    amounts : ndarray, shape (n, t)
        Parts that are told; 0 for none and for a touch.
    touches : ndarray of bool, shape (n, t)
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    own_sd, shared_sd : ndarray, shape (n, 3)
        Standard uncertainty of each reading: its own, and the part it shares with the rest of its card.
    card : ndarray of int, shape (n,)
        Cards numbered from 0: each is one photo.
    painting : ndarray of int, shape (n,)
        Which painted card it is; alike for all photos of one.
    names : tuple of str, length n
        How to call each swatch.
    """

    tubes: tuple[str, ...]
    amounts: Floats
    touches: npt.NDArray[np.bool_]
    lab: Floats
    own_sd: Floats
    shared_sd: Floats
    card: npt.NDArray[np.intp]
    painting: npt.NDArray[np.intp]
    names: tuple[str, ...]

    def __len__(self) -> int:
        """Return the number of swatches."""
        return len(self.lab)

    @property
    def parts(self) -> Floats:
        """Return the sum of the told parts of each mixture, shape (n,)."""
        return np.asarray(self.amounts.sum(axis=1))

    def with_touch(self, share: float) -> Floats:
        """Return amounts that sum to 1 in each row, a touch being `share` of the told parts."""
        full = self.amounts + share * self.touches * self.parts[:, None]
        return np.asarray(full / full.sum(axis=1, keepdims=True))

    def take(self, which: npt.NDArray[np.intp]) -> Samples:
        """Return some of the swatches, in the order given."""
        _, card = np.unique(self.card[which], return_inverse=True)
        return replace(
            self,
            amounts=self.amounts[which],
            touches=self.touches[which],
            lab=self.lab[which],
            own_sd=self.own_sd[which],
            shared_sd=self.shared_sd[which],
            card=card.astype(np.intp),
            painting=self.painting[which],
            names=tuple(self.names[i] for i in which),
        )
