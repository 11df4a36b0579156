"""A fixed set-up: a correction measured once beside the chart, kept, and used for photos without it."""
