"""Two or more readings of one card: matched, compared, fused."""
