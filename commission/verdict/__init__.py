"""Floor 6: what it means: verdicts, likely causes, progress, exceptions. Values only."""
