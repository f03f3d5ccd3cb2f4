"""Ways of practising a score: repeats, echoes, tempo ladders, recordings."""
