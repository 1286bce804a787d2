"""The command line: arguments -> job -> report. The only door to typer."""
