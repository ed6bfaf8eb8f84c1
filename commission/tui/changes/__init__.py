"""Forms with which a drawing is changed: on site during a walk, or in a site file."""
