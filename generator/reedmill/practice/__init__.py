"""How a score is practised: repeats, echoes, ladders, recordings."""
