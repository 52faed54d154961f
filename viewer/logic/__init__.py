"""What the viewer does, free of widgets."""
