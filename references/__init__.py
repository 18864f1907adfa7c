"""Release sheets, and what a set of findings says about the releases they describe."""
