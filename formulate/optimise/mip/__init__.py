"""Whole numbers: packs, choices, minimum orders and weighing steps as mixed-integer programs."""
