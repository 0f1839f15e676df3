"""``python -m assistant`` is ``clampcall``."""

from assistant.cli import main

main()
