"""Benches: accuracy and speed, run by hand."""
