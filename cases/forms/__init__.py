"""What people fill in: each form turns what was typed into a document for a service."""
