"""Steps carried out by worker processes or on a scheduler."""
