"""Knots, grid, colour order, canonical form and pattern files: what a design is.

The names below are loaded when they are first asked for, so that the command's help does not wait
for NumPy.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from motifsearch.pattern.canonical import canonical, canonical_key
    from motifsearch.pattern.design import Pattern, make_pattern
    from motifsearch.pattern.errors import InfeasibleError, InputError, MotifError
    from motifsearch.pattern.files import (
        format_pattern,
        parse_pattern,
        read_pattern,
        write_pattern,
    )

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

_MODULES = ("errors", "design", "canonical", "files")


def __getattr__(name: str) -> Any:
    """Load a name of `__all__` from its module."""
    if name in __all__:
        for module in _MODULES:
            found = import_module(f"motifsearch.pattern.{module}")
            if name in vars(found):
                return vars(found)[name]
    raise AttributeError(name)
