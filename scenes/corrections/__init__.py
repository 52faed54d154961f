"""From deviations to shims and moves."""
