"""Checks on the ground, guided by sound and lamp. Spec: hardware_notes/ground_checks.md.

Nothing here changes a setting, a zero or a calibration, and everything ends when the unit flies.
"""
