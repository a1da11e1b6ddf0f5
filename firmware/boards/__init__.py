"""One file a board: its pins, its buses, and nothing else."""
