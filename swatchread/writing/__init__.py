"""Handwriting is read and offered to the painter, who decides what it says."""
