"""What the page shows, derived from what is on the desk."""
