"""swatchread: a painter's swatch card, read from one photo into a measured note.

From a photo to a note: `read_photo`, `read_card`, `read_cards` (several cards in one photo), `load_chart`; notes on
file: `load_note`, `parse_note`, `Archive`.
From notes to answers: `compare` and `follow` (what changed), `fuse` (several photos of one card), `learn`, `predict`,
`match`, `nudge` and `plan` (what to mix). All colours are CIELAB for illuminant D50 and the 1931 2 degree observer.

The names stand in `__init__.pyi`; each is loaded when it is first asked for, so that the command line answers at once.
"""

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
