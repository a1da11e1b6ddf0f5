"""What the desk writes: traces, summaries, pictures, sounds; each file whole or not at all."""
