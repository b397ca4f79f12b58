"""Parts of pages that are too long for the page: each shows one matter on its own."""
