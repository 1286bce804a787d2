"""The forward model: masses by step -> liquor, losses, profile.

A batch is a chain of steps. Each step takes the liquor carried over from the one before,
dissolves what is added, leaves the solids behind in a cake that keeps some liquor of the
step's own composition, and loses a little to sieves and vessels. What leaves the last
step is bottled. May import `physics`, `spec`, `quantity` and `errors`.
"""
