"""Sight: what lies in a picture, by a learned eye. Cards come as polygons with how sure it is of each."""
