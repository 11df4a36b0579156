"""What all pages work on."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from swatchread.archive.store import Archive
from swatchread.recipes.tubes import TubeList

if TYPE_CHECKING:
    from swatchread.palette.fitted_palette import FittedPalette


@dataclass(slots=True)
class Studio:
    """What all pages work on; a page finds it with `swatchread.page.responses.studio_of`.

    Attributes
    ----------
    archive : Archive
        Its methods wait for the disk: call them with `starlette.concurrency.run_in_threadpool`.
    """

    archive: Archive
    _learnt: tuple[object, FittedPalette] | None = field(default=None, init=False)
    _learning: threading.Lock = field(default_factory=threading.Lock, init=False)

    @property
    def tubes(self) -> TubeList:
        """What recipes are understood with: the tubes under the painter's own words."""
        return self.archive.tubes.known()

    def palette(self) -> FittedPalette:
        """Return what the archived cards teach of the tubes; it is learnt again when the archive has changed.

        Raises
        ------
        NoRecipesError
            If no swatch has a recipe that can be used.
        """
        from swatchread.palette.card_sources import learn

        with self._learning:
            state = self.archive.map.state()
            if self._learnt is None or self._learnt[0] != state:
                self._learnt = state, learn(self.archive)
            return self._learnt[1]
