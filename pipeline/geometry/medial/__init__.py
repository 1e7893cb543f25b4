"""Medial axes: stroke width, land width and centre lines of regions, from the segment Voronoi diagram."""
