"""What is read of the published database: one file a schema, one method a table. `Book` in `data.py` has them all."""
