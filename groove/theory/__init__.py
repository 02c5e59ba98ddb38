"""Tables and arithmetic of music, nothing else."""
