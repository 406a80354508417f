"""How do people see it? Records to page."""
