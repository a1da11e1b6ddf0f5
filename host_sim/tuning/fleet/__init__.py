"""Flights and their stalls, from logs, CSVs and lists."""
