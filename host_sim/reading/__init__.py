"""What the desk reads from users: flights as CSV, settings and calibrations as JSON."""
