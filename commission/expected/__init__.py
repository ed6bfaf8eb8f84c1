"""Floor 3: what we should find: every expectation with its interval, formula, inputs and source."""
