"""What is kept of an order's sign-off: the ledger and its rows, proofs as sent, designs and their numbers."""
