"""Pictures and pages for the painter."""
