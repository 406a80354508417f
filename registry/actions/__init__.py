"""What happens when someone asks? One verb, one file."""
