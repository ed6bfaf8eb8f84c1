"""An old multi-conductor bundle: which two of its conductors are sound, and what to read next.

Pure: names and numbers in, a decision out. `survey/` is the bridge from a job.
"""
