"""The visits of a machine: what changed between them, where it leads, and an index over many machines."""
