"""`python -m formulate`."""

from formulate.cli.main import run

if __name__ == "__main__":
    run()
