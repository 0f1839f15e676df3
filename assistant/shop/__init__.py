"""What must survive a power cut: the journal, the bays and their clocks, the announcements."""
