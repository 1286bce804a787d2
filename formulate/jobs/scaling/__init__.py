"""Parts of `scale`."""
