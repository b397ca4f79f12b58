"""The settings of a shop changed from a page: what they say, what is meant, and which figures it would change."""
