"""Parts that all PDF papers share: canvas, fonts, form fields, metadata, invisible text."""
