"""Run the command line: `python -m bowfem`."""

from bowfem.cli.main import program

if __name__ == "__main__":
    program()
