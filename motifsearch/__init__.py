"""Generative design search for knotted friendship bracelets.

The package is a house of rooms; each imports only from the floors below it::

    pattern <- thread <- simulate <- search
                            ^------ gallery     (cli uses all of them)
"""

__version__ = "0.1.0"
