"""From a client's list of names to checked cut files, a proof to sign and the papers for the workshop."""

VERSION = "0.1.0"
