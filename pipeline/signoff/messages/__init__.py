"""Answers sent as a message: a text file or an e-mail."""
