"""seamsurvey: from a scan or photo of patchwork templates beside a ruler to printed foundations."""

__version__ = "0.1.0"
