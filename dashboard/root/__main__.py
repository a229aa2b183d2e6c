"""`python -m footroom` is the same as the `footroom` command."""

from .dashboard.command import main

if __name__ == "__main__":
    main()
