"""Hypothesis without deadlines: shared machines are slow at times."""

from hypothesis import HealthCheck, settings

settings.register_profile("fuzz", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("fuzz")
