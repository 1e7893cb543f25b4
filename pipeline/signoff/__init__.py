"""Making the signed paper and the cut file the same thing: fingerprint, ledger, returned papers, release."""
