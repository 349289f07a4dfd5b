"""Front ends: each only translates, people's words or JSON in, the core's reply out."""
