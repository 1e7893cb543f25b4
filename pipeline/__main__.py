"""`python -m pipeline` is the same as `plaques`."""

from pipeline.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
