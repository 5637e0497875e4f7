"""`python -m fdtd`: the same as the `fdtd` command."""

from fdtd.cli.app import main

if __name__ == "__main__":
    main()
