"""The pack's folder: what every step made, what stands where, and what is dropped."""
