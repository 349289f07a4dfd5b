"""The durable post of the bot: what came in, what goes out, what rings, who is aboard, what was counted.

Functions on rows of the store's file. They run within a transaction that the caller opened, so that
all that follows from one message is kept together or not at all.
"""
