"""Several photos of one card, fused into one note."""
