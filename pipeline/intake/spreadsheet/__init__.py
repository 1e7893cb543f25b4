"""Spreadsheet."""
