"""Decides as the firmware does, for many candidates at once."""
