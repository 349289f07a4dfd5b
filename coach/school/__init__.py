"""The school: what is to be learned, when each item comes again, and what is already held."""
