"""`python -m accomp` is the command line."""

from accomp.cli import main

if __name__ == "__main__":
    main()
