"""Parts of `adjust`: what is asked, its question, its record."""
