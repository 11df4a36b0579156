"""Predicting, matching and correcting mixtures: Kubelka-Munk theory fitted to the painter's own recorded swatches."""
