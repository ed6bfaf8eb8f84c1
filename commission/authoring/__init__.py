"""A site file from what people have: a few answers, a list of stations, an earlier report."""
