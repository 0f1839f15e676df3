"""Making the hardened encoder: see README.md in this folder."""
