"""clampcall: a hands-free bench partner for panel bonding."""

__version__ = "0.1.0"
