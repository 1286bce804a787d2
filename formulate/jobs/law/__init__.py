"""What law and good practice say of a drink: limits, names, cautions, contents."""
