"""Swatches: the card, its ground, the painted blobs, their grid, sampling one."""
