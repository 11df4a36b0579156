"""Photos: bytes to pixels, with what the file says about its colour space and its making."""

from swatchread.photo.load import load_photo
from swatchread.photo.record import Encoding, Photo

__all__ = ["Encoding", "Photo", "load_photo"]
