"""Cut files: what goes in, names, manifest, boards, registration marks."""
