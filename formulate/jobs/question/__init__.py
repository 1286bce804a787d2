"""From a file, a shelf and a jar to the question the optimiser answers."""
