"""Groups of commands, one module each; cli.py mounts them."""
