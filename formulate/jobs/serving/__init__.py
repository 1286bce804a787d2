"""One drink: weighed out, melted into, priced."""
