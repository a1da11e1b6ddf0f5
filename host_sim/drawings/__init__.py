"""Drawings of hardware_notes/, made by code: `make drawings` writes the SVG files.

They need the optional package schemdraw (extra `[drawings]`); nothing else in the project does.
"""
