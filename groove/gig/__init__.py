"""A gig: a set of songs in order, and what is handed on with them."""
