"""Line commands from a computer, one line of JSON back. Spec: hardware_notes/console.md."""
