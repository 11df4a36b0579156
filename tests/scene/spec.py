"""Every factor of a scene, with defaults that give an ordinary, easy photo."""

from dataclasses import dataclass

GROUNDS = ("white", "grey", "toned", "kraft", "canvas")
TABLES = ("wood", "dark", "white", "busy")
SHAPES = ("round", "square", "smeared")
PALETTES = ("flesh-and-earth", "with-saturated-tubes", "near-ground")  # and "six-tubes": flesh and earth from six tubes
#: Shadows whose edge crosses the table alone: over the card, over the chart, or over neither.
WHOLE_SHADOWS = ("whole-card", "whole-chart", "beside")
SHEETS = ("white", "grey", "buff", "black")
SIDES = ("left", "right", "top", "bottom")


@dataclass(frozen=True)
class SceneSpec:
    """Factors of one simulated photo. Angles in degrees, lengths as fractions, strengths as fractions of one.

    `seed` draws everything the factors leave open. `card_seed` (default: `seed`) draws the card alone (colours,
    outlines, places, writing), so that one card can be shot twice. `width` × `height` is the
    photo as held in landscape; portrait swaps them.
    """

    seed: int = 0
    card_seed: int | None = None
    width: int = 4032
    height: int = 3024

    # --- the card
    card_present: bool = True
    ground: str = "white"
    torn: bool = False
    margin: float = 0.5  # of a cell
    pencil_frames: bool = False
    tape: bool = False
    rows: int = 6
    columns: int = 3
    missing: int = 0  # cells left unpainted
    two_blocks: bool = False
    shape: str = "round"
    fill: float = 0.68  # swatch diameter over cell size; 1 touches its neighbours
    size_scatter: float = 0.08
    place_scatter: float = 0.04  # of a cell
    writing: str = "beside"  # or "below", "none"
    hand: str = ""  # a handwriting typeface of `hands` instead of the stroke alphabet
    title: str = ""  # written in the head margin; small letters, figures and "." "+" "?"
    palette: str = "flesh-and-earth"  # one of PALETTES, "six-tubes", or "pigments": shaped like real pigments' spectra
    cell_pitch: float | None = None  # over the chart's patch pitch; None = as large as fits
    card_cut: float = 0.0  # rows or columns of the card outside the frame
    card_cut_side: str = "top"  # the card's own side that lies outside
    second_card: bool = False  # another card on the same ground beside the first, a strip of table between
    brush: float = 0.035  # relative amplitude of brush ridges
    lightness_shift: tuple[float, ...] = ()  # ΔL* by swatch, cycled: drying, ageing

    # --- where things lie
    chart_present: bool = True
    chart_kind: str = (
        "classic"  # or what lies in its place: "strip", of home-made chips; "large", a chart of 140 patches
    )
    chart_make: str = "reference"  # or "faded", "yellowed", "copy" (another maker's)
    chart_off: float = 4.0  # mean CIEDE2000 of such a chart from the reference
    strip_beside: bool = False  # the strip lies beside the classic chart, to be measured
    strip_size: tuple[int, int] = (2, 6)  # rows, columns
    strip_seed: int = 0  # draws the strip's chips
    strip_turn: float = 0.0  # of the strip against the chart
    chart_side: str = "right"
    chart_turn: float = 0.0  # clockwise in the photo; 0 = dark skin top left
    card_turn: float = 0.0  # of the card against the chart
    tilt: float = 5.0  # of the camera from the card's normal
    tilt_direction: float = 90.0
    chart_fraction: float = 0.3  # chart's patch area, long side, over photo width (an upper bound: see README)
    chart_pitch_ratio: float = 0.88  # patch over patch pitch
    chart_covered: int = 0  # patches hidden by an object
    chart_glare: float = 0.0  # added light at the peak, of the white's
    chart_cut: float = 0.0  # share of the chart outside the frame
    portrait: bool = False
    exif_orientation: int = 1  # 1, 3, 6 or 8
    mirrored: bool = False

    # --- light
    light: str = "D55"
    second_light: str | None = None
    second_share: float = 0.3  # at its strongest
    second_where: str = "rising"  # across the lying things; or "shadow": where the shadow leaves it to fill in
    fall_off: float = 0.08  # from the brightest to the dimmest corner of the lying things
    fall_off_shape: str = "linear"  # or "quadratic"
    fall_off_direction: float = 30.0
    vignetting: float = 0.12  # loss in the photo's corners
    shadow: str = "none"  # "card", "chart": what a soft shadow edge crosses; or one of WHOLE_SHADOWS
    shadow_depth: float = 0.45
    shadow_width: float = 0.08  # soft edge, of the lying things' extent
    shadow_edge: str = "straight"  # or "curved", "band" (a second edge on the far side)
    glints: int = 0  # swatches with a specular glint

    # --- camera and rendering
    camera: str = "invented-phone-a"
    exposure: float = 0.0  # stops; 0 puts a perfect white at 0.80 of full scale
    white_balance: str = "auto"  # or "correct", "none"
    white_balance_error: float = 0.03
    iso: float = 100.0
    denoise: float = 0.6  # 0 = none, 1 = strong
    distortion: float = 0.0  # k1 on the radius over the half diagonal
    defocus: float = 0.0  # radius, px at 4032 px
    motion: float = 0.0  # length, px at 4032 px
    tone: str = "phone-soft"  # or "plain", "phone-contrast", "phone-bright"
    saturation: float = 1.08
    local_tone: float = 0.0  # strength: 0…0.3 of "slow", else the share by which the range of light shrinks
    local_tone_kind: str = "slow"  # or "equalised", "bilateral", "pyramid"
    sharpening: float = 0.3
    custom_rendered: int = 0  # Exif 0xA401; 0 is not written. Some phones write 2 or 3 for HDR, 7 for portrait HDR
    overlay: str = "none"  # "icon", "text": a white mark drawn into the finished photo
    overlay_over: str = "corner"  # or "chart", "card"
    space: str = "sRGB"  # or "Display P3", "opRGB"
    quality: int = 90

    # --- what else lies there
    table: str = "wood"  # one of TABLES, or "even": one colour, hardly a pattern
    under: str = "table"  # what card and chart lie on: the table; "sheet", one sheet of paper; "apart", each its own
    sheet: str = "grey"  # colour of the sheet under both, one of SHEETS
    tubes: int = 0
    brushes: int = 0
    second_chart: bool = False
    rag: bool = False

    @property
    def view_size(self):
        """(width, height) in px of the photo as viewed, after the EXIF turn."""
        return (self.height, self.width) if self.portrait else (self.width, self.height)

    @property
    def scale(self):
        """Pixels of this photo per pixel of a 4032-px one."""
        return self.width / 4032.0

    @property
    def of_card(self):
        """Seed of the card's own random numbers."""
        return self.seed if self.card_seed is None else self.card_seed
