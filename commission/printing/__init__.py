"""Pages for paper: HTML files that hold all they need, made from what is known. Pure."""
