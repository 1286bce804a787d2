"""What this bar has: its pantry, prices, stock, house-made and whole things, and batches weighed out of them."""
