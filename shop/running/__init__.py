"""Runs the whole program: one supervisor, its parts, and what must be done before they serve.

The supervisor loads the program once and forks each part from that warm image: one load instead of five, most of the
memory shared, and a dead part is back in a fraction of a second. It opens no connection and starts no thread itself, so
that a fork is safe at any time. Where forking a loaded process is not (macOS), the parts are programs of their own.
"""
