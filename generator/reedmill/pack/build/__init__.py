"""Building a pack, forecasting a build, and reporting on it."""
