"""What is said outside and decided of findings."""
