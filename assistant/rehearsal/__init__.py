"""Rehearsal: a trainee says the steps aloud, is asked questions, or is read the procedure."""
