"""What a maker prints: set-up, cut list and steps, as text, Markdown and PDF."""
