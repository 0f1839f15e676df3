"""Product cards: what a data sheet says, as checked TOML files."""
