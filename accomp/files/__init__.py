"""Data files: finding them, reading TOML with line numbers, writing new files safely."""
