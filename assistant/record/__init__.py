"""The job record: what was done, when, at what temperature, with which lot."""
