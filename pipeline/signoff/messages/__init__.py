"""Answers that come as a message: a file of text or an e-mail."""
