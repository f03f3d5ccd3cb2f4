"""What is to be done for a pack, each step named by everything that decides its bytes."""
