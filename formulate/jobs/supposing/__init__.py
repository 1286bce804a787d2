"""Parts of `suppose`: cases, what they change, working them out side by side, and keeping the results."""
