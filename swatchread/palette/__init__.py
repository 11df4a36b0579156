"""What to mix next: mixtures predicted, matched and corrected, and the palette of a sitting planned."""
