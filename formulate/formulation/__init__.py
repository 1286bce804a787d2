"""A file as the optimiser's problem: targets, limits with their origin, choices."""
