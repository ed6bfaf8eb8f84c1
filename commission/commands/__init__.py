"""One module for each command; each has `run(options) -> exit code`."""
