"""A student alone at the page."""
