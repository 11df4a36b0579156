"""Charts: their definitions, finding one in a photo, sampling its patches."""
