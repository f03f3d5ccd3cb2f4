"""The steps of a pack, each named by everything that decides its bytes."""
