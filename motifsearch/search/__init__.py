"""Brief, genome, variation, selection, archive and the search itself."""
