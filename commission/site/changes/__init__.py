"""Changes of a drawing: each a value that says what is to be another, and nothing else.

`apply` puts one into the tables of a site file, be they plain or those that keep comments; `line`
and `read_line` write it as one line of TOML and read it strictly back.
"""
