"""A release sheet as a guide for people: text for the terminal, and one HTML page to hand on."""
