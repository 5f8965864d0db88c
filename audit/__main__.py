"""`python -m audit` is the same as the console script."""

from audit.cli import main

if __name__ == "__main__":
    main()
