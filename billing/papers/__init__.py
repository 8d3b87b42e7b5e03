"""Papers: what they say, copied at the moment of issue, and how they become PDF files."""
