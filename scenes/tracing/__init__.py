"""Light: beams, swept planes and the spots that they make on detectors."""
