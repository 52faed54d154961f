"""Error sources, their propagation and Monte Carlo."""
