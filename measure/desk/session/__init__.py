"""What is on the desk, and what the page may ask for."""
