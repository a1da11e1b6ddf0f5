"""Candidates, rules, goals, the search, and how firm the choice is."""
