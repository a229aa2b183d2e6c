"""`python -m footroom` is the same as the `footroom` command."""

from .dashboard.command import main  # pyright: ignore[reportMissingImports]  (the folder moves when installed)

if __name__ == "__main__":
    main()
