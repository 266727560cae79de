"""Ways to do many independent pieces of work at once: processes of this machine, or a cluster."""
