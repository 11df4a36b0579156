"""The palette for the next sitting: a run of mixtures even in value, each with a warmer and a cooler one beside it."""
