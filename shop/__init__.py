"""The site itself, and what every other room stands on."""
