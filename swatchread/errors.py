"""One class per way of failing.

Each error says what happened, why, and what the painter should do, and carries the exit status that the
command line returns for it (0 done, 1 some of several photos failed, 2 usage, 3 not a readable photo,
4 no chart, 5 no swatches, 6 measured but too poor to trust, 7 archive trouble, 130 interrupted).
"""

from __future__ import annotations

from typing import ClassVar


class SwatchreadError(Exception):
    """Base of every failure that a painter may meet.

    Parameters
    ----------
    what : str
        What happened, one sentence without a full stop.
    why : str
        The reason, as far as it is known.
    remedy : str
        What the painter should do next; the class has a usual one.
    """

    code: ClassVar[str] = "error"
    exit_status: ClassVar[int] = 1
    usual_remedy: ClassVar[str] = ""

    def __init__(self, what: str, why: str = "", remedy: str = "") -> None:
        self.what = what
        self.why = why
        self.remedy = remedy or self.usual_remedy
        super().__init__(what, why, self.remedy)

    def __str__(self) -> str:
        """Return the whole message on one line."""
        reason = f": {self.why}" if self.why else ""
        advice = f". {self.remedy}" if self.remedy else ""
        return f"{self.what}{reason}{advice}"


class UsageError(SwatchreadError):
    """The command or call asks for something that makes no sense."""

    code = "usage"
    exit_status = 2


class ChartDefinitionError(UsageError):
    """A chart definition file is missing, malformed or inconsistent."""

    code = "chart_definition"
    usual_remedy = "Compare the file with the ones that `swatchread chart list` names"


class MeasuredTableError(UsageError):
    """A table of measured values does not hold a chart's patches."""

    code = "measured_table"
    usual_remedy = (
        "Give one row a patch in the chart's order, or with its patch names; "
        "say with --illuminant and --observer what the values are for, unless for D50, 2°"
    )


class CornersError(UsageError):
    """Corners that were pointed at are not four corners of a flat thing within the photo."""

    code = "corners"
    usual_remedy = "Give four corners as x,y in pixels of the photo as it is shown upright, counted from its upper left"


class TubeListError(UsageError):
    """A list of tubes is missing, malformed or contradicts itself."""

    code = "tube_list"
    usual_remedy = "Compare the file with swatchread's own tubes.json"


class NoteError(UsageError):
    """A note file is missing, is not a note, or does not hold together."""

    code = "note_unreadable"
    usual_remedy = "Read the photo again to make a fresh note"


class NewerNoteError(NoteError):
    """The note was written by a later version of swatchread."""

    code = "note_newer"
    usual_remedy = "Update swatchread, or read the photo again with this version"


class DifferentCardsError(UsageError):
    """Two readings that shall be compared are not of one card."""

    code = "different_cards"
    usual_remedy = "Compare photos of one and the same card, with most of its swatches in both"


class AnchorError(UsageError):
    """A swatch that shall tie two readings together cannot do so."""

    code = "anchor"
    usual_remedy = "Name swatches that are in both readings and cannot have changed, or `ground`"


class SetupFileError(UsageError):
    """A file of a kept set-up is missing, is none, or does not hold together."""

    code = "setup_unreadable"
    usual_remedy = "Photograph card and chart together and keep the set-up anew with --keep-setup"


class NewerSetupError(SetupFileError):
    """The set-up was kept by a later version of swatchread."""

    code = "setup_newer"
    usual_remedy = "Update swatchread, or keep the set-up anew with this version"


class CgatsError(UsageError):
    """A CGATS text file breaks off or contradicts itself."""

    code = "cgats_unreadable"
    usual_remedy = "Export the note again"


class OutputError(SwatchreadError):
    """A result could not be written."""

    code = "output"
    exit_status = 1
    usual_remedy = "Check that the folder exists, may be written to and has room"


class PhotoError(SwatchreadError):
    """The file is not a photo that can be read."""

    code = "photo_unreadable"
    exit_status = 3
    usual_remedy = "Use a JPEG, PNG, TIFF, HEIC or DNG photo as it came from the camera"


class PhotoTooLargeError(PhotoError):
    """The picture's dimensions or its file are beyond what is accepted."""

    code = "photo_too_large"
    usual_remedy = "Use the camera's own file, or reduce it to at most 100 megapixels"


class PhotoTooSmallError(PhotoError):
    """The picture has too few pixels to measure anything on."""

    code = "photo_too_small"
    usual_remedy = "Use the original photo, not a thumbnail or a preview"


class GreyPhotoError(PhotoError):
    """The photo holds no colour."""

    code = "photo_grey"
    usual_remedy = "Switch off the black-and-white mode or filter and shoot again"


class NoChartError(SwatchreadError):
    """No known chart was found in the photo."""

    code = "no_chart"
    exit_status = 4
    usual_remedy = (
        "Lay the whole chart flat beside the card, free of glare and fingers, in focus, and go closer; "
        "one of your own is named with --chart"
    )


class MirroredChartError(NoChartError):
    """The chart is there, but the photo is mirrored."""

    code = "chart_mirrored"
    usual_remedy = "Switch off mirroring (a front camera does it) and shoot again with the back camera"


class ChartNotThereError(NoChartError):
    """The place that was pointed at does not show the chart."""

    code = "chart_not_there"
    usual_remedy = "Give the outer corners of the patches themselves, or leave --chart-at away and let it be looked for"


class NoStripError(NoChartError):
    """The known chart was found, but no strip of chips beside it."""

    code = "no_strip"
    usual_remedy = (
        "Lay the strip flat beside the chart, its chips square, evenly spaced, ten or more; tell its rows and columns "
        "with --layout"
    )


class NoSwatchesError(SwatchreadError):
    """The chart was found, but no card with painted swatches."""

    code = "no_swatches"
    exit_status = 5
    usual_remedy = "Lay the whole card flat beside the chart, with bare ground around its swatches"


class GridMismatchError(NoSwatchesError):
    """The rows and columns that were asked for do not fit what is painted."""

    code = "grid_mismatch"
    usual_remedy = "Count rows and columns as the card's writing reads, or leave --grid away"


class PoorReadingError(SwatchreadError):
    """The photo was measured, but the figures are too poor to trust."""

    code = "too_poor"
    exit_status = 6
    usual_remedy = "Shoot again in even daylight, or take the reading as it is with --accept-poor"


class StripTurnError(PoorReadingError):
    """A strip looks much the same turned or mirrored, so a photo could not tell how it lies."""

    code = "strip_turn"
    usual_remedy = "Set the chips in an order that reads differently from the other end, and measure the strip again"


class UnfitSetupError(PoorReadingError):
    """A photo cannot carry a set-up that others could be read with."""

    code = "setup_unfit"
    usual_remedy = "Photograph chart and card in even light, with bare ground between the swatches, nothing burnt out"


class OtherSetupError(PoorReadingError):
    """A photo does not come from the set-up that was kept."""

    code = "setup_differs"
    usual_remedy = "Photograph card and chart together with this camera and keep the set-up anew with --keep-setup"


class ChangedLightError(OtherSetupError):
    """The light has changed since the set-up was kept, or nothing shows that it has not."""

    code = "light_changed"
    usual_remedy = "Photograph card and chart together in this light and keep the set-up anew with --keep-setup"


class BrokenOffError(SwatchreadError):
    """The process that read a photo ended, or did not end."""

    code = "broken_off"
    exit_status = 1
    usual_remedy = "Read this photo alone; if it happens again, export it anew as JPEG"


class UnexpectedError(SwatchreadError):
    """A fault of the program itself met on one photo."""

    code = "unexpected"
    exit_status = 1
    usual_remedy = "Please report it with the photo; the other photos are not affected"


class ArchiveError(SwatchreadError):
    """The archive cannot be opened, read or written."""

    code = "archive"
    exit_status = 7
    usual_remedy = "Check the archive's address and that no other program holds it"


class NoRecipesError(ArchiveError):
    """No recorded swatch carries a recipe that can be used."""

    code = "no_recipes"
    usual_remedy = "Write the recipes in parts with `swatchread note fill`, and add the notes to the archive"


def why_unread(error: Exception) -> tuple[str, str]:
    """Say for a person why a file cannot be read, and what to do.

    Parameters
    ----------
    error : Exception
        What the system raised.
    """
    if isinstance(error, IsADirectoryError):
        return "it is a folder", "Name the files in it, as in FOLDER/*"
    why = getattr(error, "strerror", None) or str(error)
    return why, "Check its name and folder, and that you may read it"
