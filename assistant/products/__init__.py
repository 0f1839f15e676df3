"""Product cards: what a data sheet says, as checked TOML files."""

# Registers its kinds of card, so that every reader of a card knows them.
from assistant.products import materials as materials
