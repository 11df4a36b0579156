"""The painted card: rectified, segmented, its grid, its orientation, its samples, and what the painter pointed at."""
