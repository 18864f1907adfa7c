"""The photos on the desk: opened, kept, cut into tiles, searched for a reference."""
