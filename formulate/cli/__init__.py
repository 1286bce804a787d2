"""The command line: arguments -> job -> report. The only door to typer.

The modules of commands do without postponed annotations: typer would compile each of them, twice, before it
says a word of help.
"""
