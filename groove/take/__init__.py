"""What is heard in a recorded take, and how it lies against what was to be played."""
