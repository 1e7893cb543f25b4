"""Curves, medial axes and regions: arrays in, arrays out, nothing about orders or names."""
