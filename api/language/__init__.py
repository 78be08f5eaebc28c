"""What the page and the reports say, and in which language."""
