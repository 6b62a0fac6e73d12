"""Pages for the browser: the practice page, one file that works offline, and the desk."""
