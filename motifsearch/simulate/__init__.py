"""The strands' walk and every score, on whole batches of designs at once."""
