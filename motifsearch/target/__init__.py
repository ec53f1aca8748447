"""Painted motifs: reading them, and the exact solver that finds knots for them."""
