"""A menu's stock over weeks: what to buy and make when, as one program, and the plan played through."""
