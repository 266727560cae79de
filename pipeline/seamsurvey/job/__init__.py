"""The job folder on disk: formats, the wishes in job.toml, resuming, atomic writing."""
