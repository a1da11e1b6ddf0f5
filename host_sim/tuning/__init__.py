"""`alula tune`: settings judged over many recorded flights, with the firmware's own decisions."""
