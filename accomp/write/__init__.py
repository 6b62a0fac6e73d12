"""One writer a file format, all with one signature."""
