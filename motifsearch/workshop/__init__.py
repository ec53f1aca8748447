"""The server of the workshop: thin, on this machine only, behind a secret."""
