"""One class for each way of failing, and the exit statuses of the command line.

Each error says what happened, why, and what the painter should do. Its class carries the exit status: 2 wrong usage,
3 not a readable photo, 4 no chart, 5 no swatches, 6 measured but too poor to trust, 7 trouble with the archive,
8 trouble with a cluster.
"""

from __future__ import annotations

import errno
from typing import ClassVar, Final

SOME_FAILED: Final = 1
"""Exit status when some of several photos or notes failed."""

INTERRUPTED: Final = 130
"""Exit status after Ctrl-C: 128 and the number of the signal, as shells count."""


class SwatchreadError(Exception):
    """Base of all failures that a painter may meet.

    Parameters
    ----------
    what : str
        What happened, one sentence without a full stop.
    why : str
        The reason if it is known.
    remedy : str
        What the painter should do next; by default the usual remedy of the class.
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
    """A command or a call makes no sense."""

    code = "usage"
    exit_status = 2


class ChartDefinitionError(UsageError):
    """A chart definition file is missing, malformed or inconsistent."""

    code = "chart_definition"
    usual_remedy = "Compare the file with those that `swatchread chart list` shows"


class MeasuredTableError(UsageError):
    """A table of measured values does not hold the patches of a chart."""

    code = "measured_table"
    usual_remedy = (
        "Give one row for each patch, in the chart's order or with its patch names; "
        "--illuminant and --observer say what the values are for, unless D50, 2°"
    )


class CornersError(UsageError):
    """The given corners are not the four corners of a flat thing in the photo."""

    code = "corners"
    usual_remedy = "Give four corners as x,y, in pixels from the upper left of the photo as it is shown upright"


class PointedPlaceError(UsageError):
    """Nothing that could be measured is at a place that was pointed at."""

    code = "pointed_place"
    usual_remedy = "Point at the middle of the paint"


class SeveralCardsError(UsageError):
    """What was told is true of one card only, and the photo shows several."""

    code = "several_cards"
    usual_remedy = "Say which card is meant: give its four corners"


class TubeListError(UsageError):
    """A list of tubes is missing, malformed or contradicts itself."""

    code = "tube_list"
    usual_remedy = "Compare the file with swatchread's own tubes.json"


class NoteError(UsageError):
    """A note file is missing, is not a note, or contradicts itself."""

    code = "note_unreadable"
    usual_remedy = "Read the photo again to make a new note"


class NewerNoteError(NoteError):
    """A later version of swatchread wrote the note."""

    code = "note_newer"
    usual_remedy = "Update swatchread, or read the photo again with this version"


class DifferentCardsError(UsageError):
    """Two readings that are to be compared are not of the same card."""

    code = "different_cards"
    usual_remedy = "Compare photos of the same card that both show most of its swatches"


class AnchorError(UsageError):
    """A swatch that is to tie two readings together cannot do so."""

    code = "anchor"
    usual_remedy = "Name swatches that are in both readings and cannot have changed, or name `ground`"


class SetupFileError(UsageError):
    """The file of a kept set-up is missing, is not one, or contradicts itself."""

    code = "setup_unreadable"
    usual_remedy = "Photograph card and chart together and keep the set-up again with --keep-setup"


class NewerSetupError(SetupFileError):
    """A later version of swatchread kept the set-up."""

    code = "setup_newer"
    usual_remedy = "Update swatchread, or keep the set-up again with this version"


class CgatsError(UsageError):
    """A CGATS text file is incomplete or contradicts itself."""

    code = "cgats_unreadable"
    usual_remedy = "Export the note again"


class PhotoAddressError(UsageError):
    """An address of photos makes no sense, or what lies there cannot be listed."""

    code = "photo_address"
    usual_remedy = "Check the address; it begins as s3://, file:// or another scheme whose fsspec plugin is installed"


class MissingPackageError(UsageError):
    """A part of the program that is installed on request is not there."""

    code = "missing_package"
    usual_remedy = "Install it with pip"


class OutputError(SwatchreadError):
    """A result could not be written."""

    code = "output"
    usual_remedy = "Check that the folder exists, that you may write to it, and that the disk has room"


class ConflictError(SwatchreadError):
    """A note was changed by something else after it was opened; saving would lose that change."""

    code = "changed_meanwhile"
    usual_remedy = "Open it anew, look at what stands there now, and enter again what should be otherwise"


class PhotoError(SwatchreadError):
    """The file is not a photo that can be read."""

    code = "photo_unreadable"
    exit_status = 3
    usual_remedy = "Use a JPEG, PNG, TIFF, HEIC or DNG photo as it came from the camera"


class PhotoTooLargeError(PhotoError):
    """The picture or its file is larger than what is accepted."""

    code = "photo_too_large"
    usual_remedy = "Use the camera's own file, or reduce it to at most 100 megapixels"


class PhotoTooSmallError(PhotoError):
    """The picture has too few pixels to measure anything."""

    code = "photo_too_small"
    usual_remedy = "Use the original photo, not a thumbnail or a preview"


class GreyPhotoError(PhotoError):
    """The photo has no colour."""

    code = "photo_grey"
    usual_remedy = "Switch off the black-and-white mode or filter and shoot again"


class NoChartError(SwatchreadError):
    """No known chart was found in the photo."""

    code = "no_chart"
    exit_status = 4
    usual_remedy = (
        "Lay the whole chart flat beside the card, in focus and without glare or fingers on it, and go closer; "
        "name a chart of your own with --chart"
    )


class MirroredChartError(NoChartError):
    """The chart is there, but the photo is mirrored."""

    code = "chart_mirrored"
    usual_remedy = "Switch off mirroring (front cameras mirror), or shoot again with the back camera"


class ChartNotThereError(NoChartError):
    """The chart is not at the place that was given."""

    code = "chart_not_there"
    usual_remedy = "Give the outer corners of the patches themselves, or leave out --chart-at to have the chart found"


class NoStripError(NoChartError):
    """The known chart was found, but no strip of chips was found beside it."""

    code = "no_strip"
    usual_remedy = (
        "Lay the strip flat beside the chart; it needs ten or more square, evenly spaced chips. Give its rows and "
        "columns with --layout"
    )


class NoSwatchesError(SwatchreadError):
    """The chart was found, but no card with painted swatches was found."""

    code = "no_swatches"
    exit_status = 5
    usual_remedy = "Lay the whole card flat beside the chart, with bare ground around its swatches"


class GridMismatchError(NoSwatchesError):
    """The given rows and columns do not fit what is painted."""

    code = "grid_mismatch"
    usual_remedy = "Count rows and columns with the card the way its writing reads, or leave out --grid"


class PoorReadingError(SwatchreadError):
    """The photo was measured, but the result is too poor to trust."""

    code = "too_poor"
    exit_status = 6
    usual_remedy = "Shoot again in even daylight, or accept the reading as it is with --accept-poor"


class StripTurnError(PoorReadingError):
    """A strip looks much the same when it is turned or mirrored, so that a photo cannot show how it lies."""

    code = "strip_turn"
    usual_remedy = "Order the chips so that the strip looks different from its other end, and measure it again"


class UnfitSetupError(PoorReadingError):
    """No set-up for reading other photos can be kept from a photo."""

    code = "setup_unfit"
    usual_remedy = (
        "Photograph chart and card in even light, with bare ground between the swatches, and expose a little darker"
    )


class OtherSetupError(PoorReadingError):
    """A photo was not taken with the kept set-up."""

    code = "setup_differs"
    usual_remedy = "Photograph card and chart together with this camera and keep the set-up again with --keep-setup"


class ChangedLightError(OtherSetupError):
    """The light has changed since the set-up was kept, or the photo does not show that it has not."""

    code = "light_changed"
    usual_remedy = "Photograph card and chart together in this light and keep the set-up again with --keep-setup"


class BrokenOffError(SwatchreadError):
    """The process that read a photo was ended or took too long."""

    code = "broken_off"
    usual_remedy = "Read this photo alone; if it happens again, save it as a new JPEG"


class UnexpectedError(SwatchreadError):
    """The program itself made a fault with one photo."""

    code = "unexpected"
    usual_remedy = "Please report it with the photo; the other photos are not affected"


class ArchiveError(SwatchreadError):
    """The archive cannot be opened, read or written."""

    code = "archive"
    exit_status = 7
    usual_remedy = "Check the archive's address, and that no other program is using it"


class DamagedNoteError(ArchiveError):
    """A note in the archive is damaged."""

    code = "archive_damaged"
    usual_remedy = "Take the card out with `swatchread archive remove`, and add its note file or its photo again"


class ArchiveBusyError(ArchiveError):
    """Another program writes into the archive and does not end."""

    code = "archive_busy"
    usual_remedy = "Wait until the other program is done, or end it, and try again"


class ArchiveUnwritableError(ArchiveError):
    """The disk of the archive has no room, or may not be written to."""

    code = "archive_unwritable"
    usual_remedy = "Make room on that disk, and check that you may write there; what was in the archive is still in it"


class ClusterError(SwatchreadError):
    """The cluster that is to read photos cannot be reached, or has no workers."""

    code = "cluster"
    exit_status = 8
    usual_remedy = (
        "Check that scheduler and workers run, and the address: a scheduler prints it when it starts. The same command "
        "then reads what is missing"
    )


class ClusterWorkerError(ClusterError):
    """A worker of the cluster would not read photos as this computer does."""

    code = "cluster_worker"
    usual_remedy = "Install one version of swatchread, with its extra [cluster], here and on every worker"


class ClusterFolderError(ClusterError):
    """A folder is not the same one here and on the workers of the cluster."""

    code = "cluster_folder"
    usual_remedy = "Name a folder that all computers share under one path, or an address such as s3://BUCKET/FOLDER"


class NoRecipesError(ArchiveError):
    """No recorded swatch has a recipe that can be used."""

    code = "no_recipes"
    usual_remedy = "Write the recipes in parts with `swatchread note fill`, and add the notes to the archive"


def why_unread(error: Exception) -> tuple[str, str]:
    """Return why a file cannot be read, and what the painter should do.

    Parameters
    ----------
    error : Exception
        The error that the system raised.
    """
    if isinstance(error, IsADirectoryError):
        return "it is a folder", "Name the files in it, as in FOLDER/*"
    if getattr(error, "errno", None) == errno.ELOOP:
        return "its links lead round in a circle", "Name the file itself"
    if getattr(error, "errno", None) == errno.ENAMETOOLONG:
        return "its name is longer than a disk takes", "Check the name; a word may have been pasted into it"
    why = getattr(error, "strerror", None) or str(error)
    return why, "Check its name and folder, and that you may read it"
