"""Real photographs by others: what they are (manifest.json), where they lie, and how to fetch them."""
