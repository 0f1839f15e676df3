"""Words and tags to a routine and its typed slots."""
