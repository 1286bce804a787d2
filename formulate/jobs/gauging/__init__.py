"""Parts of `gauge`: readings, scales, doubt and what is said of them."""
