"""Where is it kept? The only floor that touches disk and clock."""
