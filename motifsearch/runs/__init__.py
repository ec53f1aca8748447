"""The application: one call for each thing that a maker can ask for."""
