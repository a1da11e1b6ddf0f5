"""What a candidate is worth: delay, noise, warnings, unrest."""
