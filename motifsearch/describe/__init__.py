"""What a person sees in a design: figures, titles, words."""
