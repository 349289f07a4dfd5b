"""Tonight's card: one page that needs no signal, as words, as an HTML file, and as PDF."""
