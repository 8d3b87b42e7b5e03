"""How long the program keeps what it knows.

Every app says so in two files: `retention.toml`, a decision for each field of each of its models, which a system check
holds against the models; and `retention.py`, whose ROOM does it (see `shop.keeping.rooms`).
"""
