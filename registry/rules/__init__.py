"""Is it allowed? One rule, one file."""
