"""Stage 4: a Block becomes a FoundationPlan: sections, order, joins."""
