"""Who asks? The pages and the HTTP interface: parse, call one action, show."""
