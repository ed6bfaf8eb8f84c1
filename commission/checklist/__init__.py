"""Floor 4: what must be done, as data: checklists in TOML, unrolled over a site into steps."""
