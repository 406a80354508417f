"""Who asks? Parse, call one action, show."""
