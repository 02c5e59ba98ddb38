"""A record beside its chart: where each played bar stands in it, and how sure that is."""
