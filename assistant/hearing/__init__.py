"""Sound to words and tags: sources, the grammar graph, the recogniser."""
