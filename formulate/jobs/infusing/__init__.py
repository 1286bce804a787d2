"""Parts of `infuse`: what is asked, the table of plans, what is said of them."""
