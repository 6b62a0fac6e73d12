"""Pages for the browser: one file that plays, shows and waits."""
