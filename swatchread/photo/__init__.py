"""Photos: bytes to pixels, with what the file says about its colour space and its making."""

from swatchread.photo.encoded_photo import Encoding, Photo
from swatchread.photo.load import load_photo

__all__ = ["Encoding", "Photo", "load_photo"]
