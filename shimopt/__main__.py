"""`python -m shimopt`."""

from shimopt.cli import main

if __name__ == "__main__":
    main()
