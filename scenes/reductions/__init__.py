"""From readings to deviations, form values and verdicts."""
