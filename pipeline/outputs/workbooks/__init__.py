"""Workbooks: check sheet, size table, cut list, change list."""
