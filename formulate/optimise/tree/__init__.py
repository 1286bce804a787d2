"""The lower bound: nodes, their relaxation, tightening of bounds, branching, and the proof they make up."""
