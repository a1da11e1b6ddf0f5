"""Measurements, printed by `make bench`; no test asserts a time."""
