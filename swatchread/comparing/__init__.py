"""Two and more readings of one card: which swatch is which, what changed, and how sure that is."""
