"""What law and good practice say of a batch: limits, names, cautions, allergens, duty."""
