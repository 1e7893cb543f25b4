"""What people read: message catalogues, phrases for the client, mixed directions, printed commands."""
