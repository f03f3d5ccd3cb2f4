"""The pages of a record book: progress as one HTML file, drawn without a script."""
