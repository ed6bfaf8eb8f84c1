"""Floor 7: what is handed over: the report, from a job to the bytes that are signed."""
