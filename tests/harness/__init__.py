"""What the tests stand on: servers of their own, a running site, browsers."""
