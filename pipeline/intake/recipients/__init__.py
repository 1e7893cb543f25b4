"""From rows of a sheet to recipients: header, columns, which rows count."""
