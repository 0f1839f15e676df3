"""The trade's arithmetic: pure functions, pint quantities in and out, no I/O."""
