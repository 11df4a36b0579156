"""One pass over what is doubtful: what comes next, what was put off, and how long the rest takes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from swatchread.archive.open_doubts import OpenDoubts
from swatchread.archive.picture_archive import PictureArchive
from swatchread.note.doubts import Doubt, DoubtRound, settle, unread_photo, words_to_ask
from swatchread.page.inbox import Arrival, Inbox

Deed = Literal["take", "skip", "later"]


@dataclass(frozen=True, slots=True)
class OpenDoubt:
    """A doubt of the round.

    Attributes
    ----------
    doubt : Doubt
    card : int or None
        The card's number; None for a photo that was not read and for words.
    """

    doubt: Doubt
    card: int | None = None


@dataclass(slots=True)
class DoubtDesk:
    """Where the doubts of an archive are decided; its methods wait for the disk.

    Attributes
    ----------
    archive : PictureArchive
    inbox : Inbox
    """

    archive: PictureArchive
    inbox: Inbox
    _cards: OpenDoubts = field(init=False)
    _round: DoubtRound = field(default_factory=DoubtRound, init=False)
    _shown: dict[str, OpenDoubt] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        self._cards = self.archive.open_doubts()

    def ahead(self) -> list[OpenDoubt]:
        """Return what is to be decided, in order; what was put off comes last."""
        found = {doubt.key: OpenDoubt(doubt) for doubt in self._without_card()}
        for card, doubts in self._cards.by_card().items():
            found |= {doubt.key: OpenDoubt(doubt, card) for doubt in doubts}
        return [found[doubt.key] for doubt in self._round.ahead(one.doubt for one in found.values())]

    def show(self, one: OpenDoubt) -> None:
        """Take down that a doubt is shown, so that its pace can be counted when it is decided."""
        self._shown[one.doubt.key] = one

    def decide(self, key: str, deed: Deed, seconds: float) -> None:
        """Carry out a decision.

        Parameters
        ----------
        key : str
            Of a doubt that was shown; others are passed over.
        deed : str
            ``take``: it is right, or has been put right. ``skip``: it stays as it is. Neither is asked about again.
            ``later``: it comes again at the end of the round.
        seconds : float
            What the decision took.

        Raises
        ------
        ArchiveError
            If it could not be kept.
        """
        one = self._shown.pop(key, None)
        if one is None:
            return
        if deed == "later" or one.doubt.kind == "recipes":  # recipes that are all there are not asked about anyway
            self._round.put_off(one.doubt)
        if deed == "later":
            return
        self._round.took(one.doubt, seconds)
        arrival = self.inbox.get(key.partition(":")[0]) if one.doubt.kind == "unread" else None
        if arrival is not None and deed == "skip":
            self.inbox.note(arrival.model_copy(update={"left_out": True}))
        elif one.card is not None and not (deed == "take" and one.doubt.kind == "recipes"):
            self.archive.change(one.card, lambda note: settle(note, one.doubt.kind))

    def time_left(self, ahead: list[OpenDoubt]) -> str:
        """Say about how many minutes the rest takes."""
        return self._round.time_left(one.doubt for one in ahead)

    def _without_card(self) -> list[Doubt]:
        found = [_unread(arrival) for arrival in self.inbox if arrival.state == "refused" and not arrival.left_out]
        words = len(self.archive.tubes.questions())
        return [*found, words_to_ask(words)] if words else found


def _unread(arrival: Arrival) -> Doubt:
    failure = arrival.failure
    told = [failure.what, failure.why, failure.remedy] if failure else []
    return unread_photo(arrival.id, arrival.name, told)
