"""Parts of `buy`: what is on sale, least orders, its record."""
