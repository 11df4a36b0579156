"""The reference chart: its definition, its detection in a photo, the sampling of its patches."""
