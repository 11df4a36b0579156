"""Benches: how true, how sure, how findable and how fast, on simulated photos of known truth."""
