"""Floor 5: what was found: an append-only record, each entry chained to the one before."""
