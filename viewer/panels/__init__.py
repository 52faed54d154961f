"""What the viewer shows: widgets only."""
