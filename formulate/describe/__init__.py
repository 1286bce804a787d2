"""A batch as a record: lines, remarks, figures, as every job answers with it."""
