"""The folder of a pack: the store of results, placed files, ledgers, and cleaning."""
