"""`python -m pegwright`."""

from pegwright.cli.main import main

if __name__ == "__main__":
    main()
