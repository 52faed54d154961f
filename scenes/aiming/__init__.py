"""Aiming a beam by a near and a far target: where it stands, and what to set on its stage."""
