"""Stage 5: a FoundationPlan becomes PDF, SVG, cutting list and report."""
