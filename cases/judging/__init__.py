"""What a record says, computed from documents and a circuit alone.

Nothing here reads a row, so that files are judged without a database.
"""
