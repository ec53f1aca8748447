"""Knots, grid, colour order, canonical form and pattern files: what a design is."""

from motifsearch.pattern.canonical import canonical, canonical_key
from motifsearch.pattern.design import Pattern, make_pattern
from motifsearch.pattern.errors import InfeasibleError, InputError, MotifError
from motifsearch.pattern.files import format_pattern, parse_pattern, read_pattern, write_pattern

__all__ = [
    "InfeasibleError",
    "InputError",
    "MotifError",
    "Pattern",
    "canonical",
    "canonical_key",
    "format_pattern",
    "make_pattern",
    "parse_pattern",
    "read_pattern",
    "write_pattern",
]
