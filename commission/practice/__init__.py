"""A site to practise on: invented, with hidden faults, a simulated meter and a helper."""

from __future__ import annotations

from typing import Final

TRUTH: Final = "truth.toml"
"""The file in a job's folder that makes it a practice with hidden faults."""
