"""From what remains after a reduction to the errors that would explain it."""
