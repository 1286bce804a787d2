"""The question, the linear program, the loop and the proof.

`problem` states the question per litre bottled; `assembly` lays it out as a linear
program; `live` linearises or relaxes it; `loop` finds a recipe; `proof` bounds what any
recipe can cost; `search` runs them and verifies the answer; `diagnose` says why there is
none. May import `blend`, `spec`, `physics`, `quantity` and `errors`.
"""
