"""What is told about a shop in words: traces, findings, pages."""
