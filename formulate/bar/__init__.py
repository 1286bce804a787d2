"""What this bar has: pantry, prices, stock, things made here, and batches weighed out of them."""
