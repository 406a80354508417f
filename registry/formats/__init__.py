"""How do machines write it? Text and bytes to records and back."""
