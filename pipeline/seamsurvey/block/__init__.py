"""Stage 3: Templates become a Block: edges matched, pieces placed, adjusted to close."""
