"""Answers that come back as pictures: scans, photographs, and PDFs whose fields were printed flat."""
