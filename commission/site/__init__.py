"""Floor 1: what is in the ground, read from the site file."""
