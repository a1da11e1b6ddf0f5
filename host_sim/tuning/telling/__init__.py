"""Page, tables, pictures, explanations."""
