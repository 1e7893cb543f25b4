"""Sign-off: fingerprint, ledger, returned papers, release. What is cut is what was signed."""
