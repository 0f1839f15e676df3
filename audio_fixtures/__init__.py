"""Spoken test sentences: WAV files, their manifest and the program that makes them."""
