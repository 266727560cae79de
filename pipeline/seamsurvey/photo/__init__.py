"""Stage 1: an image becomes a Plane, which leads from pixels to true millimetres, with covariance."""
