"""The pages: templates, scripts, words and data."""
