"""What every room stands on: errors, TOML and files, colour, array types, units, text."""
