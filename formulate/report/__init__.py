"""Records to terminal and JSON. Knows records only: never files, questions or solvers."""
