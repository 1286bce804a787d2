"""What a person writes, as frozen models: bottle, shelf, recipe and ingredient files.

Reading is located (each value knows its line and column) and strict (nothing is guessed, all problems of
a file are told at once). This room may import `formulate.errors`, `formulate.quantity` and the names of the
formulas' components only.
"""
