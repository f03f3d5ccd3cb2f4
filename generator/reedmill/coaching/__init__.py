"""What to practise next: how far out each place is, what is due again, and an evening of both."""
