"""`alula tune`: constants judged over many flights, by the firmware's own decisions."""
