"""What readings and weights tell of a batch that is there, and how surely."""
