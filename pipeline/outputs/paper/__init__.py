"""Parts that papers are made of: a pen in millimetres, faces for reading matter, lettering as curves, form fields."""
