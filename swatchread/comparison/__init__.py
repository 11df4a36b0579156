"""Two or more readings of one card: matched, told apart, fused."""
