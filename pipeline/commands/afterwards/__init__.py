"""Commands for what comes after a release."""
