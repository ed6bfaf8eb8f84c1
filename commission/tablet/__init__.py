"""The same program in a browser, an optional extra: a web server for one walk, and its page."""
