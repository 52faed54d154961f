"""Layout files: YAML to model and back."""
