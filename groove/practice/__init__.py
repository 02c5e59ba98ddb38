"""Practice: ladders of tempi, loops of what is hard, and the plan that they make together."""
