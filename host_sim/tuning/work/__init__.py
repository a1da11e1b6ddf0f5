"""The work in pieces, and who does them."""
