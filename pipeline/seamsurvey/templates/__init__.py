"""Stage 2: a Plane becomes Templates: outlines, edges, allowance taken off."""
