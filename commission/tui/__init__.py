"""Floor 8: the screens: they draw a `Job` and ask the `Session`; nothing here writes a file."""
