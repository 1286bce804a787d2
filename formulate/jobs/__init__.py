"""One file per thing a person does: files in, a frozen record out.

A job loads what it needs, calls the rooms above, and returns a record that a report can
show in any form. Jobs never print. May import every room above; never `report` or `cli`.
"""
