"""A mapping proposed for a table, previewed, and settled: one way for the command line and the page."""
