"""Parts of `reformulate`: what changed, stand-ins, slips, its record."""
