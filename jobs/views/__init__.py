"""Pages of jobs: one file for each page, its GET and its POSTs."""
