"""The library: every kind that was ever found, and how it is found again."""
