"""What only the maker knows, asked once for the whole shop: gathered from all files, ranked by money, and answered."""
