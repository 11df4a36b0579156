"""Many photos at once: listed, read in processes of their own past bad ones, and reported."""
