"""Finding and reading data files, TOML with places, writing aside and moving into place."""
