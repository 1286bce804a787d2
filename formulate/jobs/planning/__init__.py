"""A menu: what must be there, other recipes, what is told."""
