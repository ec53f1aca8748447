"""The click commands: thin, each reads its arguments, calls the rooms, and prints."""
