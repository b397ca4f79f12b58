"""Other processes to work with, and what they and libraries may say on the terminal."""
