"""The question, its linear program, the loop and the proof.

`problem` states the question per litre bottled; `assembly` lays it out as a linear program, of which
`layout` is the map; `program` linearises it at a `point` or relaxes it over a node of the `tree`; `slp`
finds a recipe, with `refinement` between vertices; `tree.proof` bounds what any recipe can cost; `solve`
runs them and verifies the `answer`; `diagnose` says why there is none. `mip` keeps whole numbers beside
all that, `stock` plans buying and making over weeks. Tolerances stand in `tolerances`, all of them.
"""
