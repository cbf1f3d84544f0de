"""`python -m proveout.viewer` is the command `proveout`."""

from .cli import main

if __name__ == "__main__":
    main()
