"""What a design is: knots, grid, colour order, the plain walk, canonical form, files, passes."""
