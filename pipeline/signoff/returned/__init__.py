"""What comes back from the client: filled proofs and check sheets, compared with what was sent."""
