"""Numbers in the pages of hardware_notes/: computed here, never typed there."""
