"""The log of trips: what happened on a night, out of the turns that were kept, and over many nights."""
